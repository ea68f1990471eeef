/* Philox 4x32-10, sixteen blocks a group. The compiler does not find the multiplication of 32 bits
 * by 32 to 64 in plain loops, so wide registers are asked for by name; the words are the same. */
#include "base/philox.h"

#include "base/clones.h"

#if defined(__x86_64__) && defined(__GNUC__) && !defined(PL_SANITIZED)
#define WIDE_REGISTERS
#include <immintrin.h>
#endif

static void plain(const uint32_t counter[4], const uint32_t key[2], uint64_t *out, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3] + (uint32_t)i;
        uint32_t k0 = key[0], k1 = key[1];
        uint64_t *at = out + i / PL_PHILOX_WIDE * 2 * PL_PHILOX_WIDE + i % PL_PHILOX_WIDE;

        for (int round = 0; round < PL_PHILOX_ROUNDS; round++) {
            uint64_t p0 = (uint64_t)PL_PHILOX_M0 * c0, p1 = (uint64_t)PL_PHILOX_M1 * c2;

            c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
            c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
            c1 = (uint32_t)p1;
            c3 = (uint32_t)p0;
            k0 += PL_PHILOX_W0;
            k1 += PL_PHILOX_W1;
        }
        at[0] = (uint64_t)c0 << 32 | c1;
        at[PL_PHILOX_WIDE] = (uint64_t)c2 << 32 | c3;
    }
}

#ifdef WIDE_REGISTERS
/* A word a lane of 64 bits, in its low half; what stands in the high half is never looked at. */
__attribute__((target("avx512f"))) static void wide_512(const uint32_t counter[4],
                                                        const uint32_t key[2], uint64_t *out,
                                                        size_t n)
{
    const __m512i m0 = _mm512_set1_epi64(PL_PHILOX_M0), m1 = _mm512_set1_epi64(PL_PHILOX_M1);
    const __m512i low = _mm512_set1_epi64(0xffffffff);
    const __m512i count = _mm512_set_epi64(7, 6, 5, 4, 3, 2, 1, 0);

    for (size_t i = 0; i < n; i += PL_PHILOX_WIDE, out += 2 * PL_PHILOX_WIDE) {
        __m512i c0[2], c1[2], c2[2], c3[2];
        uint32_t k0 = key[0], k1 = key[1];

        for (int h = 0; h < 2; h++) {
            uint32_t from = counter[3] + (uint32_t)i + 8 * (uint32_t)h;

            c0[h] = _mm512_set1_epi64(counter[0]);
            c1[h] = _mm512_set1_epi64(counter[1]);
            c2[h] = _mm512_set1_epi64(counter[2]);
            c3[h] = _mm512_and_si512(_mm512_add_epi64(_mm512_set1_epi64(from), count), low);
        }
#pragma GCC unroll 10
        for (int round = 0; round < PL_PHILOX_ROUNDS; round++) {
            const __m512i key0 = _mm512_set1_epi64(k0), key1 = _mm512_set1_epi64(k1);

#pragma GCC unroll 2
            for (int h = 0; h < 2; h++) {
                __m512i p0 = _mm512_mul_epu32(m0, c0[h]), p1 = _mm512_mul_epu32(m1, c2[h]);

                c0[h] = _mm512_ternarylogic_epi64(_mm512_shuffle_epi32(p1, _MM_PERM_CDAB), c1[h],
                                                  key0, 0x96); /* of all three: exclusive or */
                c2[h] = _mm512_ternarylogic_epi64(_mm512_shuffle_epi32(p0, _MM_PERM_CDAB), c3[h],
                                                  key1, 0x96);
                c1[h] = p1;
                c3[h] = p0;
            }
            k0 += PL_PHILOX_W0;
            k1 += PL_PHILOX_W1;
        }
        for (size_t h = 0; h < 2; h++) {
            _mm512_storeu_si512(out + 8 * h, _mm512_or_si512(_mm512_slli_epi64(c0[h], 32),
                                                             _mm512_and_si512(c1[h], low)));
            _mm512_storeu_si512(
                out + PL_PHILOX_WIDE + 8 * h,
                _mm512_or_si512(_mm512_slli_epi64(c2[h], 32), _mm512_and_si512(c3[h], low)));
        }
    }
}

__attribute__((target("avx2"))) static void wide_256(const uint32_t counter[4],
                                                     const uint32_t key[2], uint64_t *out, size_t n)
{
    const __m256i m0 = _mm256_set1_epi64x(PL_PHILOX_M0), m1 = _mm256_set1_epi64x(PL_PHILOX_M1);
    const __m256i low = _mm256_set1_epi64x(0xffffffff), count = _mm256_set_epi64x(3, 2, 1, 0);

    for (size_t i = 0; i < n; i += 4) {
        const uint32_t from = counter[3] + (uint32_t)i;
        __m256i c0 = _mm256_set1_epi64x(counter[0]), c1 = _mm256_set1_epi64x(counter[1]);
        __m256i c2 = _mm256_set1_epi64x(counter[2]);
        __m256i c3 = _mm256_and_si256(_mm256_add_epi64(_mm256_set1_epi64x(from), count), low);
        uint32_t k0 = key[0], k1 = key[1];
        uint64_t *at = out + i / PL_PHILOX_WIDE * 2 * PL_PHILOX_WIDE + i % PL_PHILOX_WIDE;

        for (int round = 0; round < PL_PHILOX_ROUNDS; round++) {
            __m256i p0 = _mm256_mul_epu32(m0, c0), p1 = _mm256_mul_epu32(m1, c2);

            c0 = _mm256_xor_si256(_mm256_xor_si256(_mm256_shuffle_epi32(p1, 0xB1), c1),
                                  _mm256_set1_epi64x(k0));
            c2 = _mm256_xor_si256(_mm256_xor_si256(_mm256_shuffle_epi32(p0, 0xB1), c3),
                                  _mm256_set1_epi64x(k1));
            c1 = p1;
            c3 = p0;
            k0 += PL_PHILOX_W0;
            k1 += PL_PHILOX_W1;
        }
        _mm256_storeu_si256((__m256i *)(void *)at,
                            _mm256_or_si256(_mm256_slli_epi64(c0, 32), _mm256_and_si256(c1, low)));
        _mm256_storeu_si256((__m256i *)(void *)(at + PL_PHILOX_WIDE),
                            _mm256_or_si256(_mm256_slli_epi64(c2, 32), _mm256_and_si256(c3, low)));
    }
}
#endif

void pl_philox_blocks(const uint32_t counter[4], const uint32_t key[2], uint64_t *out, size_t n)
{
#ifdef WIDE_REGISTERS
    if (__builtin_cpu_supports("avx512f")) {
        wide_512(counter, key, out, n);
        return;
    }
    if (__builtin_cpu_supports("avx2")) {
        wide_256(counter, key, out, n);
        return;
    }
#endif
    plain(counter, key, out, n);
}
