/* Random numbers that SEED can bring back: splitmix64, after Steele, Lea & Flood 2014. In one file of a program. */
#ifndef DB_TESTS_KIT_DICE_H
#define DB_TESTS_KIT_DICE_H

#include <stdint.h>

static uint64_t seed, state;

static uint64_t next(void)
{
    uint64_t z = state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static int below(int most)
{
    return (int) (next() % (uint64_t) most);
}

static double between(double low, double high)
{
    return low + (high - low) * (double) (next() >> 11) / 9007199254740992.0;
}

#endif
