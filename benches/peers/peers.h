/* The cases of the comparison as plain equations; what each function does stands in interface/src/lib.rs. */
#ifndef PEERS_H
#define PEERS_H
#include <stddef.h>

typedef struct PeersRun PeersRun;

int peers_cases(void);
PeersRun *peers_open(int number);
void peers_close(PeersRun *run);
/* 0: a mode has begun, 1: the run is at its end, negative: transitions without end. */
int peers_reset(PeersRun *run);
int peers_event(PeersRun *run, double t, const double *z, const double *q, int guard);
/* Sizes and start of the present mode. */
int peers_states(const PeersRun *run);
int peers_ledger(const PeersRun *run);
int peers_guard_count(const PeersRun *run);
double peers_time(const PeersRun *run);
double peers_limit(const PeersRun *run, double t);
double peers_end(const PeersRun *run);
/* 0, or 1 when a value is not finite. */
int peers_rates(PeersRun *run, double t, const double *z, double *dz, double *dq);
int peers_jacobian(PeersRun *run, double t, const double *z, int rows, double *out);
void peers_guards(PeersRun *run, double t, const double *z, double *g);
void peers_units(PeersRun *run, double t, const double *z, double *units);
void peers_row(const PeersRun *run, const char *method, double tolerance, const long counts[3], double cpu, double wall,
               const char *failure, char *text, size_t size);
#endif
