# Reads `nm -u` of one object of a pure folder (object: its source's name) and prints what it may not import.
BEGIN {
    plain = "memcpy memmove memset memcmp memchr memrchr memmem strlen strnlen strcmp strncmp strchr strrchr strstr strspn strcspn " \
            "strpbrk qsort qsort_r bsearch __stack_chk_fail _GLOBAL_OFFSET_TABLE_ abort __assert_fail"
    maths = "acos asin atan atan2 ceil copysign cos cosh exp exp2 expm1 fabs floor fma fmax fmin fmod hypot ldexp log log10 log1p log2 " \
            "lrint lround llrint llround modf nan nearbyint pow remainder rint round sin sincos sinh sqrt tan tanh trunc"
    base = "snprintf vsnprintf"
    arena = "malloc calloc realloc free aligned_alloc"
    n = split(plain " " maths, list, " ")
    for (i = 1; i <= n; i++)
        may[list[i]] = may[list[i] "f"] = 1
    if (object ~ /^daemon\/base\//) {
        n = split(base, list, " ")
        for (i = 1; i <= n; i++)
            may[list[i]] = 1
    }
    if (object == "daemon/base/arena.c") {
        n = split(arena, list, " ")
        for (i = 1; i <= n; i++)
            may[list[i]] = 1
    }
}
$2 !~ /^db_/ && $2 !~ /^XXH/ && !($2 in may) { print object ": a pure folder may not call " $2 }
