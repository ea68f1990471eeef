/* JSON texts: the answers of the verbs, written as their values come. Reading is json.c's.
 *
 * What is added goes to the end of one growing text; what stands deeper than the value that it is
 * added to is closed first. A value that was closed already gets a text of its own, put in where it
 * belongs at the end: rare, and of any depth. */
#include "base/json.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"

#define PIECE_LEAST ((size_t)256)
#define PIECE_MOST ((size_t)64 * 1024)
/* An answer is as large as what it tells, which was budgeted when it was made. */
#define TEXT_BUDGET ((size_t)16 << 30)
#define WHOLE_MOST 1e15 /* 15 digits write any whole number below it */

typedef struct piece {
    struct piece *next;
    size_t length, room;
    char bytes[];
} piece;

typedef struct stream {
    piece *first, *last;
    size_t length;
    struct pl_jval *open; /* the innermost; of a text put in later: at least whom it is for */
    struct stream *later, *next; /* texts to be put in, by place */
    size_t at;                   /* of a text that is put in, */
    struct pl_jval *whom;        /* and for whom */
    bool line; /* the first members of an object closed empty: a line end follows */
} stream;

typedef struct member {
    struct member *next;
    const char *key;
} member;

typedef struct document {
    pl_arena *a, *own; /* of the texts */
    size_t refusals;   /* of a before */
    bool failed, dense;
    stream text;
    member *members;      /* of the root */
    struct pl_jval *free; /* closed for good */
} document;

struct pl_jval {
    document *doc;
    stream *in;
    struct pl_jval *parent, *kid, *sibling; /* kid: the newest; its sibling is older */
    stream *more;                           /* what came after it was closed */
    size_t end;                             /* where that goes */
    unsigned depth;
    bool array, any, closed;
};

/* --------------------------------------------------------------- the text -- */

static piece *piece_new(document *doc, stream *s, size_t least)
{
    size_t room = s->last ? 2 * s->last->room : PIECE_LEAST;
    piece *p;

    room = room > PIECE_MOST ? PIECE_MOST : room;
    room = room < least ? least : room;
    p = pl_arena_get(doc->own, 1, sizeof *p + room);
    if (!p) {
        doc->failed = true;
        return NULL;
    }
    p->room = room;
    *(s->last ? &s->last->next : &s->first) = p;
    return s->last = p;
}

static inline void put(document *doc, stream *s, const char *bytes, size_t n)
{
    piece *p = s->last;

    if (!p || n > p->room - p->length)
        p = piece_new(doc, s, n);
    if (!p)
        return;
    memcpy(p->bytes + p->length, bytes, n);
    p->length += n;
    s->length += n;
}

static void put_indent(document *doc, stream *s, unsigned depth)
{
    static const char blanks[] = "                                ";
    size_t n = doc->dense ? 0 : 2 * (size_t)depth;

    for (; n >= sizeof blanks; n -= sizeof blanks - 1)
        put(doc, s, blanks, sizeof blanks - 1);
    put(doc, s, blanks, n);
}

/* A text may come from outside (a file's name, a driver's message): bytes that are no UTF-8
 * become U+FFFD, so that every answer stays JSON. */
static void put_char(document *doc, stream *s, const char **at, const char *end)
{
    static const char plain[] = "\"\\\b\f\n\r\t", after[] = "\"\\bfnrt";
    unsigned char c = (unsigned char)**at;
    const char *named = c ? strchr(plain, c) : NULL;
    char escaped[8];

    if (named) {
        escaped[0] = '\\';
        escaped[1] = after[named - plain];
        put(doc, s, escaped, 2);
    } else if (c < 0x20) {
        snprintf(escaped, sizeof escaped, "\\u%04x", c);
        put(doc, s, escaped, 6);
    } else {
        size_t good = pl_text_utf8_fault(*at, c < 0x80 ? 1 : (size_t)(end - *at));

        put(doc, s, good ? *at : "\xef\xbf\xbd", good ? good : 3);
        *at += good ? good - 1 : 0;
    }
    ++*at;
}

static void put_string(document *doc, stream *s, const char *text)
{
    const char *end = text + strlen(text);

    put(doc, s, "\"", 1);
    while (text < end) {
        const char *from = text;

        while (text < end && (unsigned char)*text >= 0x20 && (unsigned char)*text < 0x80 &&
               *text != '"' && *text != '\\')
            text++;
        put(doc, s, from, (size_t)(text - from));
        if (text < end)
            put_char(doc, s, &text, end);
    }
    put(doc, s, "\"", 1);
}

/* ------------------------------------------------------ opening and closing -- */

static void close_down_to(document *doc, stream *s, const pl_jval *v)
{
    while (s->open != v) {
        pl_jval *c = s->open;

        c->closed = true;
        c->end = s->length;
        if (!c->array && c->any && !doc->dense)
            put(doc, s, "\n", 1);
        if (!c->array)
            put_indent(doc, s, c->depth - 1);
        put(doc, s, c->array ? "]" : "}", 1);
        s->open = c->parent;
    }
}

/* The text that v's next member goes to, with v the innermost that is open there. */
static stream *stream_for(pl_jval *v)
{
    document *doc = v->doc;

    if (v->closed && !v->more) {
        stream **place = &v->in->later, *s = PL_NEW(doc->own, stream);

        if (!s) {
            doc->failed = true;
            return NULL;
        }
        while (*place && (*place)->at <= v->end)
            place = &(*place)->next;
        *s = (stream){ .open = v,
                       .at = v->end,
                       .whom = v,
                       .next = *place,
                       .line = !v->array && !v->any && !doc->dense };
        *place = v->more = s;
    }
    close_down_to(doc, v->closed ? v->more : v->in, v);
    return v->closed ? v->more : v->in;
}

static void note_member(document *doc, const char *key)
{
    member *m = PL_NEW(doc->own, member);

    if (m)
        *m = (member){ .next = doc->members, .key = pl_arena_str(doc->own, key) };
    if (!m || !m->key)
        doc->failed = true;
    else
        doc->members = m;
}

/* Up to a member's value. NULL: nowhere to write it. */
static stream *begin_value(pl_jval *v, const char *key)
{
    stream *s = v ? stream_for(v) : NULL;
    document *doc;

    if (!s)
        return NULL;
    doc = v->doc;
    if (v->any)
        put(doc, s, v->array ? ", " : ",\n", doc->dense ? 1 : 2);
    if (!v->array) {
        put_indent(doc, s, v->depth);
        put_string(doc, s, key ? key : "");
        put(doc, s, ": ", doc->dense ? 1 : 2);
        if (!v->parent)
            note_member(doc, key ? key : "");
    }
    v->any = true;
    return s;
}

static void add_value(pl_jval *v, const char *key, const char *text, size_t n)
{
    stream *s = begin_value(v, key);

    if (s)
        put(v->doc, s, text, n);
}

static pl_jval *value_new(document *doc)
{
    pl_jval *v = doc->free;

    if (v)
        doc->free = v->sibling;
    else
        v = PL_NEW(doc->own, pl_jval);
    if (!v)
        doc->failed = true;
    return v;
}

static pl_jval *add_branch(pl_jval *parent, const char *key, bool array)
{
    stream *s = begin_value(parent, key);
    pl_jval *v = s ? value_new(parent->doc) : NULL;

    if (!v)
        return NULL;
    *v = (pl_jval){ .doc = parent->doc,
                    .in = s,
                    .parent = parent,
                    .sibling = parent->kid,
                    .depth = parent->depth + 1,
                    .array = array };
    put(v->doc, s, array ? "[" : "{\n", array || v->doc->dense ? 1 : 2);
    parent->kid = s->open = v;
    return v;
}

static void release(pl_jval *v)
{
    while (v->kid) {
        pl_jval *kid = v->kid;

        v->kid = kid->sibling;
        release(kid);
        kid->sibling = kid->doc->free;
        kid->doc->free = kid;
    }
}

void pl_jdone(pl_jval *v)
{
    pl_jval *parent = v ? v->parent : NULL;

    if (!parent || v->closed || parent->kid != v)
        return;
    close_down_to(v->doc, v->in, parent);
    release(v);
    parent->kid = v->sibling;
    v->sibling = v->doc->free;
    v->doc->free = v;
}

/* --------------------------------------------------------------- the values -- */

static void drop(void *own)
{
    pl_arena_free(own);
}

static pl_jval *root_new(pl_arena *a, bool dense)
{
    size_t refusals = pl_arena_refusals(a);
    pl_arena *own = pl_arena_own(a, pl_arena_new(TEXT_BUDGET), drop);
    document *doc = own ? PL_NEW(own, document) : NULL;
    pl_jval *v = doc ? PL_NEW(own, pl_jval) : NULL;

    if (!v)
        return NULL;
    *doc = (document){ .a = a, .own = own, .refusals = refusals, .dense = dense };
    *v = (pl_jval){ .doc = doc, .in = &doc->text, .depth = 1 };
    put(doc, &doc->text, "{\n", dense ? 1 : 2);
    doc->text.open = v;
    return v;
}

pl_jval *pl_jobject(pl_arena *a)
{
    return root_new(a, false);
}

pl_jval *pl_jobject_dense(pl_arena *a)
{
    return root_new(a, true);
}

pl_jval *pl_jadd_object(pl_jval *object, const char *key)
{
    return add_branch(object, key, false);
}

pl_jval *pl_jadd_array(pl_jval *object, const char *key)
{
    return add_branch(object, key, true);
}

void pl_jadd_number(pl_jval *object, const char *key, double x)
{
    char text[40];

    if (!isfinite(x)) {
        pl_jadd_null(object, key);
        return;
    }
    if (fabs(x) < WHOLE_MOST && x == trunc(x) && (x != 0 || !signbit(x))) {
        pl_jadd_whole(object, key, (long long)x);
        return;
    }
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(text, sizeof text, "%.*g", digits, x);
        if (strtod(text, NULL) == x)
            break;
    }
    add_value(object, key, text, strlen(text));
}

void pl_jadd_whole(pl_jval *object, const char *key, long long x)
{
    char text[32], *at = text + sizeof text;
    unsigned long long rest = x < 0 ? 0ULL - (unsigned long long)x : (unsigned long long)x;

    do {
        *--at = (char)('0' + rest % 10);
        rest /= 10;
    } while (rest);
    if (x < 0)
        *--at = '-';
    add_value(object, key, at, (size_t)(text + sizeof text - at));
}

void pl_jadd_text(pl_jval *object, const char *key, const char *s)
{
    stream *to;

    if (!s) {
        pl_jadd_null(object, key);
        return;
    }
    to = begin_value(object, key);
    if (to)
        put_string(object->doc, to, s);
}

void pl_jadd_bool(pl_jval *object, const char *key, bool b)
{
    add_value(object, key, b ? "true" : "false", b ? 4 : 5);
}

void pl_jadd_null(pl_jval *object, const char *key)
{
    add_value(object, key, "null", 4);
}

bool pl_jhas(const pl_jval *root, const char *key)
{
    const member *m = root ? root->doc->members : NULL;

    while (m && strcmp(m->key, key) != 0)
        m = m->next;
    return m;
}

/* -------------------------------------------------------------- the whole -- */

typedef struct reader {
    pl_jpiece take;
    void *context;
    bool going;
} reader;

static void give(reader *r, const char *bytes, size_t n)
{
    r->going = r->going && (!n || r->take(r->context, bytes, n));
}

static void give_stream(const stream *s, reader *r)
{
    const stream *later = s->later;
    size_t from = 0;

    for (const piece *p = s->first; p; from += p->length, p = p->next) {
        size_t done = 0;

        for (; later && later->at < from + p->length; later = later->next) {
            give(r, p->bytes + done, later->at - from - done);
            done = later->at - from;
            give_stream(later, r);
            give(r, "\n", later->line);
        }
        give(r, p->bytes + done, p->length - done);
    }
}

static void close_all(document *doc, stream *s)
{
    if (s->open != s->whom)
        close_down_to(doc, s, s->whom);
    for (stream *later = s->later; later; later = later->next)
        close_all(doc, later);
}

bool pl_jmade(const pl_jval *root)
{
    return root && !root->doc->failed && pl_arena_refusals(root->doc->a) == root->doc->refusals;
}

bool pl_jeach(pl_jval *root, pl_jpiece take, void *context)
{
    reader r = { .take = take, .context = context, .going = true };
    document *doc = root ? root->doc : NULL;

    if (!doc)
        return false;
    assert(!root->parent);
    close_all(doc, &doc->text);
    if (!pl_jmade(root))
        return false;
    give_stream(&doc->text, &r);
    give(&r, "\n", 1);
    return r.going;
}

static bool add_piece(void *context, const char *bytes, size_t n)
{
    pl_text_bytes(context, bytes, n);
    return true;
}

static bool count_piece(void *context, const char *bytes, size_t n)
{
    (void)bytes;
    *(size_t *)context += n;
    return true;
}

char *pl_jtext(pl_arena *a, pl_jval *root)
{
    size_t n = 0;
    pl_text t;

    if (!pl_jeach(root, count_piece, &n))
        return NULL;
    pl_text_init(&t, a);
    pl_text_room(&t, n);
    return pl_jeach(root, add_piece, &t) ? pl_text_done(&t) : NULL;
}

void pl_jadd_findings(pl_jval *object, const pl_diags *diags)
{
    pl_jval *list = pl_jadd_array(object, "findings");

    for (size_t i = 0; i < diags->count; i++) {
        const pl_diag *d = &diags->items[i];
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "severity", pl_severity_name(d->severity));
        if (d->severity == PL_REFUSED)
            pl_jadd_text(one, "code", pl_code_name(d->code));
        pl_jadd_text(one, "where", d->where);
        if (d->pointer[0])
            pl_jadd_text(one, "pointer", d->pointer);
        pl_jadd_text(one, "found", d->found);
        pl_jadd_text(one, "expected", d->expected);
        pl_jadd_text(one, "mend", d->mend);
    }
}
