/* Wire: the fixed binary form in which work goes to a child and answers come
 * back. Host byte order: both ends are the same program. Nothing read from a
 * child is believed: every length is bounded, a text is cleaned on arrival. */
#ifndef PL_RIGS_WIRE_H
#define PL_RIGS_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/text.h"

#define PL_WIRE_MAGIC 0x504c4154u
#define PL_WIRE_TEXT_MOST 4096u /* bytes of a text in an answer */

/* Descriptors of the child. */
enum { PL_FD_WORK = 3, PL_FD_ANSWER = 4, PL_FD_PLUGIN = 5, PL_FD_RECORD = 6 };

typedef enum pl_work {
    PL_WORK_KIND = 1,
    PL_WORK_CHECK,
    PL_WORK_PRESS,
    PL_WORK_BACK,
    PL_WORK_READ,
    PL_WORK_CURVE,
    PL_WORK_CURVE_TRY
} pl_work;

/* What the child was at when it last said so; names in child.c. */
typedef enum pl_stage {
    PL_STAGE_START,
    PL_STAGE_LOAD,
    PL_STAGE_LOADED,
    PL_STAGE_SET_POINT,
    PL_STAGE_BACK,
    PL_STAGE_READ,
    PL_STAGE_CURVE,
    PL_STAGE_ANSWER,
    PL_NSTAGES
} pl_stage;

/* Messages of an answer: type, length, payload. */
typedef enum pl_message {
    PL_MSG_STAGE = 1, /* u32 stage */
    PL_MSG_BLOCKED,   /* u32 system call: the filter ended the child */
    PL_MSG_NO_FENCE,  /* u32 errno: the filter could not be set up */
    PL_MSG_FINDING,   /* code, severity, where, pointer, found, expected, mend */
    PL_MSG_KIND,
    PL_MSG_POINT,
    PL_MSG_FORCE,
    PL_MSG_READING,
    PL_MSG_CURVE, /* what the curve service answered */
    PL_MSG_COST,  /* f64 processor seconds, f64 most bytes held: of the whole visit */
    PL_MSG_END,   /* u32 pl_code; the answer is whole */
    PL_NMESSAGES
} pl_message;

void pl_pack_u32(pl_text *t, uint32_t x);
void pl_pack_u64(pl_text *t, uint64_t x);
void pl_pack_f64(pl_text *t, double x);
void pl_pack_text(pl_text *t, const char *s); /* NULL stays NULL */
void pl_pack_bytes(pl_text *t, const char *s, size_t n);
void pl_pack_message(pl_text *t, pl_message type, const pl_text *payload);

/* Reading: past the end everything is 0 or NULL and bad is set. */
typedef struct pl_unpack {
    const unsigned char *at, *end;
    bool bad;
} pl_unpack;
uint32_t pl_unpack_u32(pl_unpack *u);
uint64_t pl_unpack_u64(pl_unpack *u);
double pl_unpack_f64(pl_unpack *u);
/* A copy of up to PL_WIRE_TEXT_MOST bytes, control characters and broken UTF-8
 * turned into '?'. A longer one is bad. NULL for a NULL text or when bad. */
const char *pl_unpack_text(pl_arena *a, pl_unpack *u);
/* As it is, any length; *n its bytes; a NUL behind it. NULL when bad. */
char *pl_unpack_bytes(pl_arena *a, pl_unpack *u, size_t *n);

#endif
