/* Files and digests. libcrypto is used here and in digest.h, nowhere else. */
#ifndef PL_BASE_FILE_H
#define PL_BASE_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_FILE_MOST ((size_t)256 << 20) /* largest file read as a whole */

/* The whole file, a NUL after its last byte. Only regular files and pipes.
 * PL_ENOFILE with the reason ("no such file", "a folder", ...). */
pl_code pl_file_read(pl_arena *a, const char *path, char **bytes, size_t *length, pl_diags *d);

/* Writes beside the target, syncs, then renames: the file is whole or absent.
 * An existing file is refused unless replace. PL_EWRITE. */
pl_code pl_file_write(const char *path, const char *bytes, size_t length, bool replace,
                      pl_diags *d);

/* Makes a folder and its parents; fine if it is there. */
pl_code pl_file_folder(const char *path, pl_diags *d);

bool pl_file_exists(const char *path);
const char *pl_file_base(const char *path); /* after the last '/' */
char *pl_file_join(pl_arena *a, const char *folder, const char *name);

/* SHA-256 as 64 lower-case hex digits. */
char *pl_digest(pl_arena *a, const void *bytes, size_t n);
bool pl_is_digest(const char *s, size_t n); /* n bytes, a NUL or anything else behind them */
/* pl_file_read of a file whose digest is known; PL_ESYNTAX when its bytes have another. */
pl_code pl_file_read_digested(pl_arena *a, const char *path, const char *digest, char **bytes,
                              size_t *n, pl_diags *d);
pl_code pl_digest_fd(pl_arena *a, int fd, char **hex, pl_diags *d); /* from the start; seeks back */

#endif
