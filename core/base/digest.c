/* SHA-256 piece by piece, through libcrypto. */
#include "base/digest.h"

#include <openssl/evp.h>

struct pl_digester {
    EVP_MD_CTX *ctx;
    bool failed, fresh;
};

static void drop(void *ctx)
{
    EVP_MD_CTX_free(ctx);
}

/* With no type named, the one in use is kept: looking it up costs more than a short digest. */
static void begin(pl_digester *g)
{
    g->failed = !EVP_DigestInit_ex(g->ctx, NULL, NULL);
    g->fresh = true;
}

void pl_digester_clear(pl_digester *g)
{
    if (!g->fresh)
        begin(g);
}

pl_digester *pl_digester_new(pl_arena *a)
{
    pl_digester *g = PL_NEW(a, pl_digester);

    if (!g)
        return NULL;
    g->ctx = pl_arena_own(a, EVP_MD_CTX_new(), drop);
    if (!g->ctx || !EVP_DigestInit_ex(g->ctx, EVP_sha256(), NULL))
        return NULL;
    g->fresh = true;
    return g;
}

void pl_digester_add(pl_digester *g, const void *bytes, size_t n)
{
    g->fresh = false;
    if (!g->failed && n)
        g->failed = !EVP_DigestUpdate(g->ctx, bytes, n);
}

bool pl_digester_end(pl_digester *g, char hex[PL_DIGEST_HEX])
{
    static const char digits[] = "0123456789abcdef";
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned n = 0;

    hex[0] = 0;
    if (g->failed || !EVP_DigestFinal_ex(g->ctx, digest, &n) || n * 2 != PL_DIGEST_HEX - 1) {
        begin(g);
        return false;
    }
    for (unsigned i = 0; i < n; i++) {
        hex[2 * i] = digits[digest[i] >> 4];
        hex[2 * i + 1] = digits[digest[i] & 15];
    }
    hex[2 * n] = 0;
    begin(g);
    return true;
}
