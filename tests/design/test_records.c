/* The records of tests/reference/worked/designs.json that belong to no one design: lattices,
 * bounds, how many designs of a kind there are. And that every record there is checked by some
 * test. */
#include <dirent.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sort_vector.h>

#include "support.h"

#include "base/file.h"
#include "base/stream.h"
#include "design/allocations.h"
#include "design/balance.h"
#include "design/balanced.h"
#include "design/field.h"
#include "design/information.h"
#include "reference/worked/worked.h"

static size_t each(bench *b, const char *kind, void (*f)(bench *b, const pl_json *r))
{
    const pl_json *list = worked_list(b, "designs.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next)
        if (!kind || worked_in(r, kind)) {
            f(b, r);
            n++;
        }
    return n;
}

/* ---------------------------------------------------------------- layouts -- */

typedef struct layout {
    size_t v, nblock, k, n;
    size_t *treatment, *block; /* n */
} layout;

static layout layout_new(bench *b, size_t v, size_t nblock, size_t k)
{
    return (layout){ v,
                     nblock,
                     k,
                     nblock * k,
                     PL_NEWN(b->a, nblock * k, size_t),
                     PL_NEWN(b->a, nblock * k, size_t) };
}

static double efficiency(bench *b, const layout *w)
{
    pl_layout l = { .nunit = w->n,
                    .ngroup = 1,
                    .v = w->v,
                    .treatment = w->treatment,
                    .nkind = 1,
                    .block = { w->block },
                    .nblock = { w->nblock } };
    pl_information in;
    double e;

    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 0, (double)(w->n / w->v), &e, &b->d));
    return e;
}

/* Canonical efficiency factors, the v - 1 that are not the mean's, from the eigenvalues of
 * I - N N' / (r k): worked out here by GSL, not by the code under test. */
static double *factors(bench *b, const layout *w)
{
    size_t v = w->v, at = 0;
    double r = (double)(w->n / v), *e = PL_NEWN(b->a, v, double);
    gsl_matrix *m = gsl_matrix_alloc(v, v);
    gsl_vector *value = gsl_vector_alloc(v);
    gsl_eigen_symm_workspace *room = gsl_eigen_symm_alloc(v);

    for (size_t i = 0; i < v; i++)
        for (size_t j = 0; j < v; j++) {
            double meet = 0;

            for (size_t u = 0; u < w->n; u++)
                for (size_t x = 0; x < w->n; x++)
                    meet += w->treatment[u] == i && w->treatment[x] == j &&
                            w->block[u] == w->block[x];
            gsl_matrix_set(m, i, j, (i == j) - meet / (r * (double)w->k));
        }
    gsl_eigen_symm(m, value, room);
    gsl_sort_vector(value); /* the least is the mean's: 0 */
    for (size_t i = 1; i < v; i++)
        e[at++] = gsl_vector_get(value, i);
    gsl_eigen_symm_free(room);
    gsl_vector_free(value);
    gsl_matrix_free(m);
    return e;
}

/* Square lattice: k^2 treatments, the first r parallel classes of lines of the plane over a field
 * of k elements. */
static layout lattice(bench *b, size_t k, size_t r)
{
    layout w = layout_new(b, k * k, r * k, k);
    pl_field f;
    size_t u = 0;

    assert_true(pl_field_init(&f, (unsigned)k));
    for (size_t c = 0; c < r; c++)
        for (size_t line = 0; line < k; line++)
            for (size_t x = 0; x < k; x++, u++) {
                size_t y = c ? f.add[f.mul[c - 1][x]][line] : line;

                w.block[u] = c * k + line;
                w.treatment[u] = c ? x * k + y : line * k + x; /* the first: x constant */
            }
    return w;
}

static void check_lattice(bench *b, const pl_json *r)
{
    size_t k = (size_t)worked_in_value(r, "k"), times = (size_t)worked_in_value(r, "r");
    layout w = lattice(b, k, times);
    double e = efficiency(b, &w), *factor = factors(b, &w), log_sum = 0, inverse = 0;

    for (size_t i = 0; i + 1 < w.v; i++) {
        log_sum += log(factor[i]);
        inverse += 1 / factor[i];
    }
    assert_abs("A", e, worked_expected(r, "A_decimal"), 1e-10);
    assert_abs("A by eigenvalues", (double)(w.v - 1) / inverse, e, 1e-10);
    assert_abs("least factor", factor[0], worked_expected(r, "E_efficiency_min_canonical"), 1e-10);
    assert_abs("D", exp(log_sum / (double)(w.v - 1)), worked_expected(r, "D_geometric_mean"),
               1e-10);
}

static void test_lattices(void **state)
{
    assert_int_equal(each(*state, "lattice-eff", check_lattice), 7);
}

/* ----------------------------------------------------------------- bounds -- */

/* Replicates shuffled, each cut into blocks of k: resolvable, from a stream. */
static layout resolvable(bench *b, size_t v, size_t k, size_t r, pl_stream *stream)
{
    layout w = layout_new(b, v, r * v / k, k);
    uint32_t *order = PL_NEWN(b->a, v, uint32_t);

    for (size_t c = 0; c < r; c++) {
        for (size_t i = 0; i < v; i++)
            order[i] = (uint32_t)i;
        pl_stream_shuffle(stream, order, (uint32_t)v);
        for (size_t i = 0; i < v; i++) {
            w.treatment[c * v + i] = order[i];
            w.block[c * v + i] = (c * v + i) / k;
        }
    }
    return w;
}

/* Bound for layouts of which at most m canonical factors are not 1: their loss together is v/k - 1,
 * which costs least when they share it alike. m is the rank of blocks less that of replicates. */
static double bound_of_rank(bench *b, const layout *w, size_t r)
{
    size_t *one = PL_NEWN(b->a, w->n, size_t), *all = PL_NEWN(b->a, w->n, size_t), with, without;
    pl_layout l = { .nunit = w->n,
                    .ngroup = 1,
                    .v = r,
                    .treatment = all,
                    .nkind = 1,
                    .block = { w->block },
                    .nblock = { w->nblock } };
    double v = (double)w->v, loss = v / (double)w->k - 1, m;
    pl_information in;

    for (size_t u = 0; u < w->n; u++)
        all[u] = u / w->v;
    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_df(b->a, &in, &with, &b->d));
    l.block[0] = one;
    l.nblock[0] = 1;
    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_df(b->a, &in, &without, &b->d));
    m = (double)(without - with);
    return (v - 1) / (v - 1 - m + m * m / (m - loss));
}

static void check_bound(bench *b, const pl_json *r)
{
    size_t v = (size_t)worked_in_value(r, "v"), k = (size_t)worked_in_value(r, "k");
    size_t times = (size_t)worked_in_value(r, "r");
    double bound, best = 0, resolved = worked_expected(r, "A_upper_bound_resolvable");
    pl_stream stream;
    layout w;
    pl_layout l;

    pl_stream_init(&stream, 9, PL_FOR_TEST, v);
    w = resolvable(b, v, k, times, &stream);
    l = (pl_layout){ .nunit = w.n,
                     .ngroup = 1,
                     .v = v,
                     .treatment = w.treatment,
                     .nkind = 1,
                     .block = { w.block },
                     .nblock = { w.nblock } };
    assert_ok(b, pl_layout_bound(b->a, &l, 0, (double)times, &bound, &b->d));
    assert_abs("bound", bound, worked_expected(r, "A_upper_bound_unresolved"), 1e-10);
    assert_abs("bound of whole replicates", bound_of_rank(b, &w, times), resolved, 1e-10);
    for (size_t i = 0; i < 300; i++) {
        pl_mark mark = pl_arena_mark(b->a);

        w = resolvable(b, v, k, times, &stream);
        best = fmax(best, efficiency(b, &w));
        pl_arena_reset(b->a, mark);
    }
    assert_true(best <= resolved + 1e-12);
    assert_true(best > 0.8 * resolved); /* and it is not far off */
}

static void test_bounds(void **state)
{
    assert_int_equal(each(*state, "block-bound", check_bound), 4);
}

/* ----------------------------------------------------------------- counts -- */

#define UNION_MOST 17

/* What two designs that differ in names alone have in common: how often three and four of their
 * blocks together hold so many treatments. */
typedef struct fingerprint {
    size_t three[UNION_MOST], four[UNION_MOST];
} fingerprint;

static fingerprint print_of(const uint32_t *block, size_t nblock)
{
    fingerprint p = { 0 };

    for (size_t i = 0; i < nblock; i++)
        for (size_t j = 0; j < i; j++)
            for (size_t k = 0; k < j; k++) {
                uint32_t some = block[i] | block[j] | block[k];

                p.three[__builtin_popcount(some)]++;
                for (size_t l = 0; l < k; l++)
                    p.four[__builtin_popcount(some | block[l])]++;
            }
    return p;
}

/* A balanced design by interchange from a random start, as bits of its blocks; false: not reached.
 */
static bool find_design(bench *b, size_t v, size_t nblock, size_t k, uint64_t seed, uint32_t *bits)
{
    size_t n = nblock * k, *own = PL_NEWN(b->a, nblock, size_t);
    uint32_t *t = PL_NEWN(b->a, n, uint32_t), *at = PL_NEWN(b->a, n, uint32_t);
    double *weight = PL_NEWN(b->a, nblock, double);
    pl_stream stream;
    pl_share_out s = { .nunit = n,
                       .v = v,
                       .nblock = nblock,
                       .treatment = t,
                       .block = at,
                       .weight = weight,
                       .starts = 1 };

    for (size_t u = 0; u < n; u++) {
        t[u] = (uint32_t)(u % v);
        at[u] = (uint32_t)(u / k);
        own[u / k]++;
        weight[u / k] = 1;
    }
    pl_stream_init(&stream, seed, PL_FOR_TEST, v);
    pl_stream_shuffle(&stream, t, (uint32_t)n);
    s.least = pl_share_out_least(v, nblock, own, weight);
    assert_ok(b, pl_share_out_improve(b->a, &s, &b->d));
    memset(bits, 0, nblock * sizeof *bits);
    for (size_t u = 0; u < n; u++)
        bits[at[u]] |= 1u << t[u];
    return s.criterion <= s.least + 1e-9;
}

#define DESIGNS_MOST 200 /* starts a record */

/* No more kinds of design come out than there are; where one or two are published, so many. The
 * design that is built is one of them. */
static void check_count(bench *b, const pl_json *r)
{
    size_t v = (size_t)worked_in_value(r, "v"), k = (size_t)worked_in_value(r, "k");
    size_t lambda = (size_t)worked_in_value(r, "lambda_");
    size_t times = lambda * (v - 1) / (k - 1), nblock = v * times / k, n = nblock * k;
    double published = worked_expected(r, "nonisomorphic");
    fingerprint kind[DESIGNS_MOST + 1];
    size_t count = 0, reached = 0;
    uint32_t bits[64], *block = PL_NEWN(b->a, n, uint32_t);

    for (size_t i = 0; i <= DESIGNS_MOST; i++) {
        pl_mark mark = pl_arena_mark(b->a);
        bool found = i || pl_balanced(b->a, (unsigned)v, (unsigned)nblock, (unsigned)k, block) ==
                              PL_BALANCED_BUILT;
        fingerprint p;
        size_t same = 0;

        assert_true(found);
        if (i) {
            found = find_design(b, v, nblock, k, i, bits);
        } else {
            memset(bits, 0, sizeof bits);
            for (size_t u = 0; u < n; u++) /* set after set, k in each */
                bits[u / k] |= 1u << block[u];
        }
        pl_arena_reset(b->a, mark);
        if (!found)
            continue;
        reached++;
        p = print_of(bits, nblock);
        while (same < count && memcmp(&kind[same], &p, sizeof p) != 0)
            same++;
        if (same == count)
            kind[count++] = p;
    }
    print_message("%s: %zu designs, %zu kinds of %g\n", worked_id(r), reached, count, published);
    assert_true((double)count <= published);
    if (published <= 2)
        assert_int_equal(count, (size_t)published);
}

static void test_counts(void **state)
{
    assert_int_equal(each(*state, "bibd-count", check_count), 8);
}

/* reduced: of those whose first row and column stand in order, total / (n! (n - 1)!). */
static void check_latin(bench *b, const pl_json *r)
{
    size_t order = (size_t)worked_in_value(r, "order");
    pl_allocations n = pl_allocations_one();
    const pl_json *e = pl_json_get(r, "expected");

    (void)b;
    assert_true(pl_allocations_latin(&n, order));
    assert_string_equal(n.exact, pl_json_get(e, "total")->string);
    for (size_t i = 2; i <= order; i++)
        pl_allocations_over(&n, (double)i);
    for (size_t i = 2; i < order; i++)
        pl_allocations_over(&n, (double)i);
    assert_string_equal(n.exact, pl_json_get(e, "reduced")->string);
}

static void test_latin_counts(void **state)
{
    assert_int_equal(each(*state, "latin-count", check_latin), 5);
}

/* ------------------------------------------------------------------- all -- */

static const char *sources;

/* Some test of this folder takes records of that kind: it says worked_in(..., "kind") or, here,
 * each(..., "kind". */
static void check_taken(bench *b, const pl_json *r)
{
    const char *kind = strchr(worked_id(r), ':') + 1;
    char *word = pl_arena_printf(b->a, ", \"%.*s\"", (int)strcspn(kind, "/"), kind);

    if (!strstr(sources, pl_arena_printf(b->a, "worked_in(r%s)", word)) &&
        !strstr(sources, pl_arena_printf(b->a, "each(*state%s, ", word)))
        fail_msg("%s is checked by nothing", worked_id(r));
}

static void test_every_record(void **state)
{
    bench *b = *state;
    const char *folder = top_path(b->a, "tests/design");
    DIR *dir = opendir(folder);
    struct dirent *e;
    pl_text all;

    assert_non_null(dir);
    pl_text_init(&all, b->a);
    while ((e = readdir(dir))) {
        const char *dot = strrchr(e->d_name, '.');
        char *text;
        size_t n;

        if (!dot || strcmp(dot, ".c") != 0)
            continue;
        assert_ok(b, pl_file_read(b->a, pl_file_join(b->a, folder, e->d_name), &text, &n, &b->d));
        pl_text_bytes(&all, text, n);
    }
    closedir(dir);
    sources = pl_text_done(&all);
    assert_int_equal(each(b, NULL, check_taken), 135);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_lattices),     TEST(test_bounds),       TEST(test_counts),
        TEST(test_latin_counts), TEST(test_every_record),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
