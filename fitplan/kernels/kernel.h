/* What every kernel shares: exported names, fixed-width types, a bump allocator, counted steps and limits.
 * Kernels are freestanding: no C library, no input or output, no clock.  Long searches run in slices
 * (a count of steps), so that the caller keeps the deadline and can report progress.
 *
 * Compiled for the machine itself, a kernel runs under sanitizers in the tests: every allocation then lies in the
 * lowest 4 GiB, between bytes that may not be touched. */
#ifndef FITPLAN_KERNEL_H
#define FITPLAN_KERNEL_H

typedef signed char i8;
typedef unsigned char u8;
typedef short i16;
typedef unsigned short u16;
typedef int i32;
typedef unsigned int u32;
typedef long long i64;
typedef unsigned long long u64;
typedef float f32;
typedef double f64;

/* Work done in inner loops since the kernel was loaded; what a search may do is counted in these. */
static i64 steps_done;
#define STEPS(count) (steps_done += (i64)(count))

#ifdef __wasm__

#define EXPORT(name) __attribute__((export_name(#name)))

extern u8 __heap_base;
static u32 heap_top = 0;
static u32 heap_most = 0; /* nothing from here on was ever given: it is zero as it came */

/* Give `bytes` of memory, 16-byte aligned, with whatever was in it; 0 when the memory cannot grow so far. */
EXPORT(allocate_raw) u32 allocate_raw(u32 bytes) {
  if (!heap_top) heap_top = ((u32)&__heap_base + 15u) & ~15u;
  u32 start = heap_top;
  u64 end = (u64)start + (((u64)bytes + 15u) & ~15ull);
  if (end > 0xffff0000ull) return 0;
  u32 have = __builtin_wasm_memory_size(0) << 16;
  if (end > have) {
    u32 pages = (u32)((end - have + 65535u) >> 16);
    if (__builtin_wasm_memory_grow(0, pages) == (u32)-1) return 0;
  }
  heap_top = (u32)end;
  if (heap_top > heap_most) heap_most = heap_top;
  return start;
}

/* Give `bytes` of zeroed memory, 16-byte aligned; 0 when the memory cannot grow so far.  What was never given is left
 * alone: the system has it ready page by page when it is touched, and of many arrays most never is. */
EXPORT(allocate) u32 allocate(u32 bytes) {
  u32 given = heap_most, start = allocate_raw(bytes);
  if (start && given > start) __builtin_memset((void *)start, 0, (given < heap_top ? given : heap_top) - start);
  return start;
}

/* Forget all that was allocated. */
EXPORT(reset) void reset(void) { heap_top = ((u32)&__heap_base + 15u) & ~15u; }

#else

#define EXPORT(name)
u32 allocate(u32 bytes);
u32 allocate_raw(u32 bytes);
void reset(void);

#endif

/* Give room for so many things of a size; 0 when there is none. */
static u32 allocate_many(u64 count, u64 size) __attribute__((unused));
static u32 allocate_many(u64 count, u64 size) { return count * size < 0xffff0000ull ? allocate((u32)(count * size)) : 0; }

EXPORT(steps_taken) f64 steps_taken(void) { return (f64)steps_done; }

/* A limit of a kernel, as a variable: a test lowers it and sees that the kernel gives up. */
#define LIMIT(name, most) \
  static i32 name = most; \
  EXPORT(limit_##name) void limit_##name(i32 value) { name = value < (most) ? value : (most); }

#endif
