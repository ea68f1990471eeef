/* How many threads a parallel loop may have, and which one runs; one where there is no OpenMP. */
#ifndef PL_BASE_THREADS_H
#define PL_BASE_THREADS_H

#ifdef _OPENMP
#include <omp.h>
#define PL_THREADS omp_get_max_threads()
#define PL_THREAD omp_get_thread_num()
#else
#define PL_THREADS 1
#define PL_THREAD 0
#endif

#endif
