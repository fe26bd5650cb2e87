/* What every kernel shares: exported names, fixed-width types and a bump allocator over linear memory.
 * Kernels are freestanding: no C library, no input or output, no clock.  Long searches run in slices
 * (a count of steps), so that the caller keeps the deadline and can report progress. */
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

#define EXPORT(name) __attribute__((export_name(#name)))

extern u8 __heap_base;
static u32 heap_top = 0;

/* Give `bytes` of zeroed memory, 16-byte aligned; 0 when the memory cannot grow so far. */
EXPORT(allocate) u32 allocate(u32 bytes) {
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
  __builtin_memset((void *)start, 0, (u32)end - start);
  return start;
}

/* Forget all that was allocated. */
EXPORT(reset) void reset(void) { heap_top = ((u32)&__heap_base + 15u) & ~15u; }

#endif
