/* Repetitions that wait for luck, or walk far, are for the plain run and the sanitizers. Under valgrind, thirty times slower, THRIFT is
 * in the environment, and a program does the same things fewer times. */
#ifndef DB_TESTS_KIT_THRIFT_H
#define DB_TESTS_KIT_THRIFT_H

#include <stdlib.h>

/* How often, or how far: `many`, or `few` where it has to be thrifty. */
static inline int thrift(int many, int few)
{
    return getenv("THRIFT") ? few : many;
}

#endif
