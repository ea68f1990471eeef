/* Packing and unpacking of work and answers. Knows numbers and texts, not what
 * they mean: that is inside.c on the one end and ask.c on the other. */
#include "rigs/wire.h"

#include <string.h>

static const uint32_t no_text = UINT32_MAX;

void pl_pack_u32(pl_text *t, uint32_t x)
{
    char b[sizeof x];

    memcpy(b, &x, sizeof x);
    pl_text_bytes(t, b, sizeof b);
}

void pl_pack_u64(pl_text *t, uint64_t x)
{
    char b[sizeof x];

    memcpy(b, &x, sizeof x);
    pl_text_bytes(t, b, sizeof b);
}

void pl_pack_f64(pl_text *t, double x)
{
    char b[sizeof x];

    memcpy(b, &x, sizeof x);
    pl_text_bytes(t, b, sizeof b);
}

void pl_pack_bytes(pl_text *t, const char *s, size_t n)
{
    if (n >= no_text) {
        t->failed = true;
        return;
    }
    pl_pack_u32(t, (uint32_t)n);
    if (n)
        pl_text_bytes(t, s, n);
}

void pl_pack_text(pl_text *t, const char *s)
{
    if (!s)
        pl_pack_u32(t, no_text);
    else
        pl_pack_bytes(t, s, strlen(s));
}

void pl_pack_message(pl_text *t, pl_message type, const pl_text *payload)
{
    if (payload->failed)
        t->failed = true;
    pl_pack_u32(t, (uint32_t)type);
    pl_pack_bytes(t, payload->bytes, payload->length);
}

static void take(pl_unpack *u, void *to, size_t n)
{
    if (u->bad || (size_t)(u->end - u->at) < n) {
        u->bad = true;
        memset(to, 0, n);
        return;
    }
    memcpy(to, u->at, n);
    u->at += n;
}

uint32_t pl_unpack_u32(pl_unpack *u)
{
    uint32_t x;

    take(u, &x, sizeof x);
    return x;
}

uint64_t pl_unpack_u64(pl_unpack *u)
{
    uint64_t x;

    take(u, &x, sizeof x);
    return x;
}

double pl_unpack_f64(pl_unpack *u)
{
    double x;

    take(u, &x, sizeof x);
    return x;
}

/* A terminal must not be steered by a plugin's words: C0, DEL and the C1 range
 * (0xC2 0x80-0x9F in UTF-8) go too. */
static void clean(char *s, size_t n)
{
    for (size_t i = 0; i < n;) {
        i += pl_text_utf8_fault(s + i, n - i);
        if (i < n)
            s[i++] = '?';
    }
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)s[i];

        if (c < 0x20 || c == 0x7f)
            s[i] = '?';
        else if (c == 0xc2 && i + 1 < n && (unsigned char)s[i + 1] < 0xa0)
            s[i] = s[i + 1] = '?';
    }
}

const char *pl_unpack_text(pl_arena *a, pl_unpack *u)
{
    uint32_t n = pl_unpack_u32(u);
    char *s;

    if (u->bad || n == no_text)
        return NULL;
    if (n > PL_WIRE_TEXT_MOST || (size_t)(u->end - u->at) < n) {
        u->bad = true;
        return NULL;
    }
    s = pl_arena_strn(a, (const char *)u->at, n);
    if (!s) {
        u->bad = true;
        return NULL;
    }
    u->at += n;
    clean(s, strlen(s));
    return s;
}

char *pl_unpack_bytes(pl_arena *a, pl_unpack *u, size_t *n)
{
    uint32_t count = pl_unpack_u32(u);
    char *s;

    *n = 0;
    if (u->bad || (size_t)(u->end - u->at) < count) {
        u->bad = true;
        return NULL;
    }
    s = pl_arena_get(a, (size_t)count + 1, 1);
    if (!s) {
        u->bad = true;
        return NULL;
    }
    memcpy(s, u->at, count);
    u->at += count;
    *n = count;
    return s;
}
