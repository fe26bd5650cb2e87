"""What is told about typical mistakes, word by word, and that no file at all can do worse."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import InputError
from fitplan.files.document import MAX_BYTES, MAX_DEPTH, parse_document
from fitplan.files.read import read_catalogue, read_train, read_vehicle
from tests.files.lines import DATA, FILES, catalogue, changed, mistakes_of

CASES = yaml.safe_load((Path(__file__).parent / "mistakes.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES, ids=[f"{case['file']}: {case['new']!r}" for case in CASES])
def test_each_mistake_is_told_word_by_word(tmp_path: Path, case: dict[str, Any]) -> None:
    """A mistake gives one clear error: file, line, column, what was found and expected, the nearest name."""
    train = changed(tmp_path / "line", case["file"], case["old"], case["new"])
    assert mistakes_of(train) == case["mistakes"]


def test_unchanged_line_has_no_mistake() -> None:
    """The line that the cases change is good: each mistake comes from its change."""
    assert mistakes_of(DATA / "line" / "train.yaml") == []


def test_all_mistakes_of_all_files_at_once(tmp_path: Path) -> None:
    """Mistakes in the train, a vehicle and a part are told together, in the order of files and lines."""
    folder = tmp_path / "line"
    changed(folder, "train.yaml", "train: Test line", "train:")
    changed(folder, "train.yaml", "part: eye", "part: eie")
    changed(folder, "train.yaml", "speed: 300", "speed: fast, sped: 2")
    changed(folder, "loco.yaml", "mass: 100", "mass: heavy")
    changed(folder, "loco.yaml", "      #..........g\n", "      #.........g\n")
    changed(folder, "loco.yaml", "kind: motor", "kind: engine")
    changed(folder, "parts/own.yaml", "mass: 0.5 g", "mass: 0.5 V")
    told = mistakes_of(changed(folder, "parts/own.yaml", "half angle: 15", "half angle: wide"))
    assert [line.split(": found")[0] for line in told] == [
        "loco.yaml:5:7", "loco.yaml:23:7", "loco.yaml:39:11",
        "parts/own.yaml:14:11", "parts/own.yaml:17:51",
        "train.yaml:1:7", "train.yaml:7:25", "train.yaml:18:18", "train.yaml:18:24",
    ]  # fmt: skip


def test_mistake_in_a_block_hides_none_in_another(tmp_path: Path) -> None:
    """An entry with a mistake is left out without a second mistake wherever it is referred to."""
    folder = tmp_path / "line"
    changed(folder, "train.yaml", "name: van, file", "name: van, fiel")
    changed(folder, "train.yaml", "part: own-beam", "part: own-baem")
    told = mistakes_of(changed(folder, "parts/own.yaml", "exit: up", "exit: upp"))
    assert len(told) == 3


@pytest.mark.parametrize(
    ("text", "value"),
    [("012", 12.0), ("1e3", 1000.0), (".5", 0.5), ("300", 300.0), ("0.3 m/s", 300.0), ("300mm/s", 300.0)],
)
def test_numbers_are_read_as_people_write_them(tmp_path: Path, text: str, value: float) -> None:
    """What YAML 1.1 reads in eights or as a text is the number that it looks like."""
    train = changed(tmp_path / "line", "train.yaml", "speed: 300", f"speed: {text}")
    assert read_train(train, catalogue()).running.speed == pytest.approx(value)


def test_words_that_yaml_takes_for_something_else_stay_texts(tmp_path: Path) -> None:
    """A train called no, or 3:25, is called that."""
    for name in ("no", "on", "3:25", "2024-01-01", "1e3", "0x10", "null", "~"):
        train = changed(tmp_path / name.replace(":", "-"), "train.yaml", "train: Test line", f"train: {name}")
        assert read_train(train, catalogue()).name == name


def test_byte_order_mark_and_line_ends_do_not_matter(tmp_path: Path) -> None:
    """Files with a byte order mark and with carriage returns are read like others."""
    plain = read_train(DATA / "line" / "train.yaml", catalogue())
    changed(tmp_path / "line", "train.yaml", "", "")
    for name in FILES:
        path = tmp_path / "line" / name
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_train(tmp_path / "line" / "train.yaml", catalogue()) == plain


def test_anchors_and_merge_keys(tmp_path: Path) -> None:
    """A block can be named and used again, and its keys can be replaced."""
    train = changed(
        tmp_path / "line",
        "train.yaml",
        "  - {name: van, file: loco.yaml, turned: yes}",
        "  - &van {name: van, file: loco.yaml, turned: yes}",
    )
    assert read_train(train, catalogue()).vehicle("van").turned
    document = parse_document("a: &a {x: 1, y: 2}\nb: {<<: *a, y: 3}\nc: {y: 4, <<: [*a, *a]}", Path("f"), [])
    assert document == {"a": {"x": "1", "y": "2"}, "b": {"x": "1", "y": "3"}, "c": {"x": "1", "y": "4"}}


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\xff\xfet\0r\0", "found a file in UTF-16; expected a text file in UTF-8 (save it as UTF-8)"),
        (b"x: \xff", "found a byte that is not UTF-8; expected a text file in UTF-8 (save it as UTF-8)"),
        (b"a\0b", "found a file that is not text; expected a text file in UTF-8"),
        (b"", "found an empty file; expected keys and values: `key: value`"),
        (b"# only this\n", "found an empty file; expected keys and values: `key: value`"),
        (b"- a\n", "found a list; expected keys and values: `key: value`"),
        (b"train", "found 'train'; expected keys and values: `key: value`"),
        (b"#" * (MAX_BYTES + 1), "found a file of 1000001 bytes; expected one of at most 1000000 bytes"),
        (b"[" * 100_000, f"found more than {MAX_DEPTH} levels of nesting; expected a flatter file"),
        (b"{a: " * 100_000, f"found more than {MAX_DEPTH} levels of nesting; expected a flatter file"),
    ],
)  # fmt: skip
def test_files_that_are_no_documents(tmp_path: Path, data: bytes, told: str) -> None:
    """What is no text, no YAML or no block of keys is told in one line, for every kind of file."""
    path = tmp_path / "file.yaml"
    path.write_bytes(data)
    readers: list[Any] = [
        lambda: read_train(path, {}), lambda: read_vehicle(path), lambda: read_catalogue([tmp_path])
    ]  # fmt: skip
    for read in readers:
        with pytest.raises(InputError) as caught:
            read()
        assert len(caught.value.mistakes) == 1
        assert str(caught.value).endswith(told)


def test_growing_references_are_stopped(tmp_path: Path) -> None:
    """A file of references that would grow beyond all memory is refused at once."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 12)]
    path = tmp_path / "train.yaml"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(InputError, match="more than 200000 values"):
        read_train(path, {})


def test_missing_files_and_folders(tmp_path: Path) -> None:
    """A missing file, a folder in the place of a file, and a missing folder are told apart."""
    (tmp_path / "train.yaml").write_text("train: a", encoding="utf-8")
    with pytest.raises(InputError, match=r"no such file; .* \(did you mean 'train.yaml'"):
        read_train(tmp_path / "tarin.yaml", {})
    with pytest.raises(InputError, match="found a folder; expected a file"):
        read_vehicle(tmp_path)
    with pytest.raises(InputError, match="no such folder; expected a folder with part files"):
        read_catalogue([tmp_path / "parts"])


JUNK = st.sampled_from(
    [
        *(
            "",
            "no",
            "~",
            "[]",
            "{}",
            "-",
            ":",
            "*a",
            "&a",
            "!x",
            "<<",
            "'",
            '"',
            "|",
            ">",
            "#",
            "%",
            "@",
            "`",
            "\t",
        ),
        *("0", "-1", "1e400", "99999999999", ".nan", "12 parsecs", "yes", "up", "fixed", "loco", "removable"),
        *("  ", "{a: b}", "[1, 2, 3]", "*", "a.b", "/", "..", "\u2028", "\x85", "é", "\x00"),
    ]
)


@settings(max_examples=250, deadline=None)
@given(data=st.data())
def test_no_change_of_a_file_ever_crashes(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Whatever is changed anywhere, the train is read or mistakes are told, each with a line of its file."""
    folder = tmp_path_factory.mktemp("line") / "line"
    train = changed(folder, "train.yaml", "", "")
    for _ in range(data.draw(st.integers(1, 3))):
        path = folder / data.draw(st.sampled_from(FILES))
        text = path.read_bytes().decode("utf-8", "replace")
        way = data.draw(st.sampled_from(["token", "line", "cut", "insert", "swap"]))
        if way in ("token", "insert"):
            start = data.draw(st.integers(0, len(text)))
            end = start
            while way == "token" and end < len(text) and text[end] not in " ,{}[]\n:":
                end += 1
            text = text[:start] + data.draw(JUNK) + text[end:]
        else:
            lines = text.split("\n")
            i, j = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
            if way == "line":
                del lines[i]
            elif way == "cut":
                lines = lines[:i]
            else:
                lines[i], lines[j] = lines[j], lines[i]
            text = "\n".join(lines)
        path.write_bytes(text.encode("utf-8", "replace"))
    try:
        read_train(train, catalogue())
    except InputError as error:
        mistakes = error.mistakes
        assert mistakes
    else:
        mistakes = ()
    for mistake in mistakes:
        lines_of_file = mistake.path.read_bytes().decode("utf-8", "replace").split("\n")
        assert 0 <= mistake.line <= len(lines_of_file) + 1
        assert mistake.found
        assert mistake.expected
        assert "\n" not in str(mistake)
