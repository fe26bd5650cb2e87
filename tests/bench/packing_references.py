"""General-purpose references for the packing benchmark; each returns a verdict or why it cannot be run."""

from __future__ import annotations

import itertools
import time

from fitplan.packing.engine.problem import PackingProblem


def sizes_of(problem: PackingProblem) -> list[tuple[int, int, int]]:
    """Return one pose's edges of every block."""
    found = []
    for item in problem.items:
        box = item.variants[0].shape.solid[0]
        found.append((box[3] - box[0], box[4] - box[1], box[5] - box[2]))
    return found


def pairwise_cp_sat(problem: PackingProblem, limit_s: float) -> tuple[str, float]:
    """CP-SAT, positions in the unit of the problem, a six-way disjunction for each pair."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    space = problem.spaces[0]
    things = []
    for size in sizes_of(problem):
        edges = [model.new_int_var(min(size), max(size), "") for _ in range(3)]
        model.add_allowed_assignments(edges, sorted(set(itertools.permutations(size))))
        low = [model.new_int_var(space.hull[a], space.hull[a + 3], "") for a in range(3)]
        for a in range(3):
            model.add(low[a] + edges[a] <= space.hull[a + 3])
        things.append((low, edges))
    fixed = [([b[a] for a in range(3)], [b[a + 3] - b[a] for a in range(3)]) for b in space.obstacles]
    for k, (low, edges) in enumerate(things):
        for other_low, other_edges in things[:k] + fixed:
            sides = []
            for a in range(3):
                side = model.new_bool_var("")
                model.add(low[a] + edges[a] <= other_low[a]).only_enforce_if(side)
                sides.append(side)
                side = model.new_bool_var("")
                model.add(other_low[a] + other_edges[a] <= low[a]).only_enforce_if(side)
                sides.append(side)
            model.add_bool_or(sides)
    return _solve(model, limit_s)


def voxel_cp_sat(problem: PackingProblem, limit_s: float) -> tuple[str, float]:
    """CP-SAT, one boolean for each place of each kind of block, at most one in each cell."""
    from ortools.sat.python import cp_model

    start = time.monotonic()
    hull = problem.spaces[0].hull
    edge = [hull[a + 3] - hull[a] for a in range(3)]
    model = cp_model.CpModel()
    cells: dict[tuple[int, ...], list[cp_model.IntVar]] = {}
    sizes = [tuple(sorted(size)) for size in sizes_of(problem)]
    for size in sorted(set(sizes)):
        own = []
        for turned in sorted(set(itertools.permutations(size))):
            for low in itertools.product(*(range(edge[a] - turned[a] + 1) for a in range(3))):
                lies = model.new_bool_var("")
                own.append(lies)
                for cell in itertools.product(*(range(low[a], low[a] + turned[a]) for a in range(3))):
                    cells.setdefault(cell, []).append(lies)
        model.add(sum(own) == sizes.count(size))
    for variables in cells.values():
        model.add_at_most_one(variables)
    verdict, _ = _solve(model, max(0.1, limit_s - (time.monotonic() - start)))
    return verdict, time.monotonic() - start


def _solve(model, limit_s: float) -> tuple[str, float]:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = limit_s
    start = time.monotonic()
    status = solver.solve(model)
    names = {cp_model.OPTIMAL: "fits", cp_model.FEASIBLE: "fits", cp_model.INFEASIBLE: "cannot_fit"}
    return names.get(status, "not_decided"), time.monotonic() - start


def py3dbp_packer(problem: PackingProblem, limit_s: float) -> tuple[str, float]:
    """Lay the blocks with py3dbp's heuristic, biggest first; knows plain boxes only."""
    import py3dbp

    start = time.monotonic()
    hull = problem.spaces[0].hull
    if problem.spaces[0].obstacles:
        return "not_decided", 0.0
    packer = py3dbp.Packer()
    packer.add_bin(py3dbp.Bin("box", *(hull[a + 3] - hull[a] for a in range(3)), 10**9))
    for k, size in enumerate(sizes_of(problem)):
        packer.add_item(py3dbp.Item(str(k), *size, 1))
    packer.pack(bigger_first=True)
    fits = len(packer.bins[0].items) == len(problem.items)
    return ("fits" if fits else "not_decided"), time.monotonic() - start


def shapes_cp_sat(problem: PackingProblem, limit_s: float) -> tuple[str, float]:
    """CP-SAT for shapes of several boxes: pose and offset of each, a six-way disjunction for two boxes."""
    from ortools.sat.python import cp_model

    from fitplan.packing.engine.free_offsets import kinds_of

    begin = time.monotonic()
    model = cp_model.CpModel()
    things = []
    for kind in kinds_of(problem):
        for _ in kind.names:
            at = [model.new_int_var(-100_000, 100_000, "") for _ in range(3)]
            poses = []
            for free in kind.variants:
                taken = model.new_bool_var("")
                pieces = []
                for piece in free.pieces.tolist():
                    here = model.new_bool_var("")
                    pieces.append(here)
                    for axis in range(3):
                        model.add(at[axis] >= piece[axis]).only_enforce_if(here)
                        model.add(at[axis] <= piece[axis + 3]).only_enforce_if(here)
                model.add(sum(pieces) == 1).only_enforce_if(taken)
                model.add(sum(pieces) == 0).only_enforce_if(~taken)
                poses.append((taken, free.variant.shape))
            model.add_exactly_one([taken for taken, _ in poses])
            things.append((at, poses))
    for (at, poses), (other_at, other_poses) in itertools.combinations(things, 2):
        for (one, shape), (two, other) in itertools.product(poses, other_poses):
            rooms = [room.box for room in shape.clearances]
            other_rooms = [room.box for room in other.clearances]
            pairs = [
                *itertools.product(shape.solid, (*other.solid, *other_rooms)),
                *itertools.product(rooms, other.solid),
            ]
            for a, b in pairs:
                if time.monotonic() - begin > limit_s:
                    return "not_decided", time.monotonic() - begin  # the model alone takes that long
                sides = []
                for axis in range(3):
                    for first, last, p, q in ((at, other_at, a, b), (other_at, at, b, a)):
                        side = model.new_bool_var("")
                        model.add(first[axis] + p[axis + 3] <= last[axis] + q[axis]).only_enforce_if(side)
                        sides.append(side)
                model.add_bool_or([*sides, ~one, ~two])
    verdict, _ = _solve(model, max(0.1, limit_s - (time.monotonic() - begin)))
    return verdict, time.monotonic() - begin
