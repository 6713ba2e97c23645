/* SUNDIALS' BDF method (CVODES, Newton's iteration, dense direct solver) on the cases of the comparison: CSV on stdout.
 *
 *   cvode            the sweep over tolerances
 *   cvode 1e-5       one tolerance
 *   cvode rates      cost of one evaluation of the rates, ns
 *   cvode defaults   the sweep with CVODE's own settings of Newton's iteration and of the highest order
 *   cvode version    the library's version
 *
 * What is done for it: exact Jacobian; error weights from the rig's scales at every step (CVodeWFtolerances); the
 * ledger as quadratures outside the error control (the reason for CVODES: the same integrator as CVODE, with
 * quadratures), so that the linear systems are no larger than they must be; its own root finding, falling crossings
 * only; stop times at kinks; a right-hand side that is not finite reported as recoverable; limits on failures raised;
 * one solver for each number of unknowns, reused through CVodeReInit; the guards of a step, which its root finder has
 * computed, not computed again; a first step of 5 us after each transition (its own estimate of it cost a fifth more);
 * and the settings that did best of some twenty tried: Newton's iteration to 0.03 of the tolerance (its own: 0.1), a
 * Jacobian every 10 factorisations (50), order 4 at most (5). */

#include "peers.h"
#include <cvodes/cvodes.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sundials/sundials_version.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <time.h>

/* As in the Rust part of the comparison: src/cost.rs, src/sweep.rs, src/diffsol_peer.rs. */
enum { BATCHES = 5, MAX_STATES = 64, MAX_GUARDS = 16, MAX_STEPS = 2000000 };
static const double BATCH = 0.04, LONG = 0.5, FIRST_STEP = 5e-6;
/* Whether the settings of Newton's iteration and the order are those that did best here, or CVODE's own. */
static int tuned = 1;

/* A solver for one number of unknowns, and what its callbacks need. */
typedef struct {
    PeersRun *run;
    double tolerance;
    void *memory;
    N_Vector z, q;
    SUNMatrix matrix;
    SUNLinearSolver linear;
    int guard_count;
    double guards[MAX_GUARDS]; /* as last computed */
} Solver;

typedef struct {
    long counts[3]; /* steps, rejected, failures of Newton's iteration */
    char failure[160];
} Tally;

static int rates(double t, N_Vector z, N_Vector dz, void *data) {
    return peers_rates(((Solver *)data)->run, t, NV_DATA_S(z), NV_DATA_S(dz), NULL);
}

static int ledger(double t, N_Vector z, N_Vector dq, void *data) {
    return peers_rates(((Solver *)data)->run, t, NV_DATA_S(z), NULL, NV_DATA_S(dq));
}

static int jacobian(double t, N_Vector z, N_Vector dz, SUNMatrix out, void *data, N_Vector a, N_Vector b, N_Vector c) {
    (void)dz, (void)a, (void)b, (void)c;
    return peers_jacobian(((Solver *)data)->run, t, NV_DATA_S(z), (int)NV_LENGTH_S(z), SM_DATA_D(out));
}

static int guards(double t, N_Vector z, double *g, void *data) {
    Solver *s = data;
    peers_guards(s->run, t, NV_DATA_S(z), g);
    memcpy(s->guards, g, (size_t)s->guard_count * sizeof *g);
    return 0;
}

static int weights(N_Vector z, N_Vector weight, void *data) {
    Solver *s = data;
    double t = peers_time(s->run), *w = NV_DATA_S(weight);
    if (CVodeGetCurrentTime(s->memory, &t) != CV_SUCCESS) return -1;
    peers_units(s->run, t, NV_DATA_S(z), w);
    for (long i = 0; i < NV_LENGTH_S(z); i++) w[i] = 1.0 / (s->tolerance * w[i]);
    return 0;
}

static void quiet(int code, const char *module, const char *function, char *message, void *data) {
    (void)code, (void)module, (void)function, (void)message, (void)data;
}

/* The solver for `n` unknowns, made when first asked for. */
static Solver *solver_for(Solver **all, PeersRun *run, double tolerance, int n, SUNContext context) {
    if (all[n]) return all[n];
    Solver *s = calloc(1, sizeof *s);
    if (!s) return NULL;
    s->run = run;
    s->tolerance = tolerance;
    s->z = N_VNew_Serial(n, context);
    s->q = N_VNew_Serial(peers_ledger(run), context);
    s->matrix = SUNDenseMatrix(n, n, context);
    s->linear = SUNLinSol_Dense(s->z, s->matrix, context);
    s->memory = CVodeCreate(CV_BDF, context);
    N_VConst(0.0, s->z);
    N_VConst(0.0, s->q);
    int bad = 0;
    bad |= CVodeSetErrHandlerFn(s->memory, quiet, NULL);
    bad |= CVodeInit(s->memory, rates, peers_time(run), s->z);
    bad |= CVodeWFtolerances(s->memory, weights);
    bad |= CVodeSetUserData(s->memory, s);
    bad |= CVodeSetLinearSolver(s->memory, s->linear, s->matrix);
    bad |= CVodeSetJacFn(s->memory, jacobian);
    bad |= CVodeQuadInit(s->memory, ledger, s->q);
    bad |= CVodeSetMaxErrTestFails(s->memory, 1000);
    bad |= CVodeSetMaxConvFails(s->memory, 1000);
    bad |= CVodeSetMaxHnilWarns(s->memory, -1);
    if (tuned) {
        bad |= CVodeSetNonlinConvCoef(s->memory, 0.03);
        bad |= CVodeSetJacEvalFrequency(s->memory, 10);
        bad |= CVodeSetMaxOrd(s->memory, 4);
    }
    return bad ? NULL : (all[n] = s);
}

static void add_counts(Solver *s, Tally *tally) {
    long steps = 0, rejected = 0, failures = 0;
    CVodeGetNumSteps(s->memory, &steps);
    CVodeGetNumErrTestFails(s->memory, &rejected);
    CVodeGetNumNonlinSolvConvFails(s->memory, &failures);
    tally->counts[0] += steps;
    tally->counts[1] += rejected;
    tally->counts[2] += failures;
}

static int negative_guard(const Solver *s) {
    for (int i = 0; i < s->guard_count; i++)
        if (s->guards[i] < 0.0) return i;
    return -1;
}

/* One mode, from its start to its end; the status of `peers_event`, or -2 with `tally->failure` set. `first`: a first
 * step shorter than usual, after a start from which a guard went negative unseen. */
static int mode(Solver *s, double *first, Tally *tally) {
    PeersRun *run = s->run;
    double t = peers_time(run), limit = NAN, end = peers_end(run);
    double *z = NV_DATA_S(s->z), *q = NV_DATA_S(s->q), at;
    N_VConst(0.0, s->z);
    N_VConst(0.0, s->q);
    s->guard_count = peers_guard_count(run);
    if (s->guard_count > MAX_GUARDS || NV_LENGTH_S(s->q) > MAX_STATES) {
        snprintf(tally->failure, sizeof tally->failure, "more guards or states than cvode.c has room for");
        return -2;
    }
    int falling[MAX_GUARDS], found[MAX_GUARDS];
    for (int i = 0; i < s->guard_count; i++) falling[i] = -1;
    int bad = CVodeReInit(s->memory, t, s->z) | CVodeQuadReInit(s->memory, s->q) |
              CVodeRootInit(s->memory, s->guard_count, guards) | CVodeSetRootDirection(s->memory, falling) |
              CVodeSetNoInactiveRootWarn(s->memory);
    double h = fmin(FIRST_STEP, *first);
    bad |= CVodeSetInitStep(s->memory, h);
    if (bad) {
        snprintf(tally->failure, sizeof tally->failure, "refused its settings");
        return -2;
    }
    for (long steps = 0;; steps++) {
        double next = peers_limit(run, t), before = t;
        if (next != limit) CVodeSetStopTime(s->memory, limit = next);
        int flag = CVode(s->memory, end, s->z, &t, CV_ONE_STEP);
        if (flag < 0 || steps > MAX_STEPS) {
            add_counts(s, tally);
            char *name = CVodeGetReturnFlagName(flag);
            snprintf(tally->failure, sizeof tally->failure, "%s at t = %.6f s", flag < 0 ? name : "too many steps", t);
            free(name);
            return -2;
        }
        if (flag == CV_ROOT_RETURN) {
            int which = -1;
            CVodeGetQuad(s->memory, &at, s->q);
            CVodeGetRootInfo(s->memory, found);
            for (int i = s->guard_count - 1; i >= 0; i--)
                if (found[i]) which = i;
            add_counts(s, tally);
            *first = INFINITY;
            return peers_event(run, t, z, q, which);
        }
        int unseen = negative_guard(s);
        if (unseen >= 0) {
            /* The guard was zero at the start and is negative now: the root finder sees no change of sign. */
            add_counts(s, tally);
            *first = 0.1 * (t - before);
            CVodeGetDky(s->memory, before, 0, s->z);
            CVodeGetQuadDky(s->memory, before, 0, s->q);
            return peers_event(run, before, z, q, *first > 1e-9 ? -1 : unseen);
        }
        *first = INFINITY;
        if (!(t < end)) {
            add_counts(s, tally);
            CVodeGetQuad(s->memory, &at, s->q);
            return peers_event(run, end, z, q, -1);
        }
    }
}

/* One run; 0, or -1 with `tally->failure` set. */
static int run_once(PeersRun *run, double tolerance, Tally *tally) {
    Solver *all[MAX_STATES] = {0};
    SUNContext context;
    memset(tally, 0, sizeof *tally);
    SUNContext_Create(NULL, &context);
    int status = peers_reset(run);
    double first = INFINITY;
    while (status == 0) {
        int n = peers_states(run);
        Solver *s = n > 0 && n < MAX_STATES ? solver_for(all, run, tolerance, n, context) : NULL;
        if (!s) {
            snprintf(tally->failure, sizeof tally->failure, "no solver for %d unknowns", n);
            break;
        }
        status = mode(s, &first, tally);
    }
    if (status == -1) snprintf(tally->failure, sizeof tally->failure, "chatter at t = %.6f s", peers_time(run));
    for (int n = 0; n < MAX_STATES; n++) {
        Solver *s = all[n];
        if (!s) continue;
        CVodeFree(&s->memory);
        SUNLinSolFree(s->linear);
        SUNMatDestroy(s->matrix);
        N_VDestroy(s->z);
        N_VDestroy(s->q);
        free(s);
    }
    SUNContext_Free(&context);
    return tally->failure[0] ? -1 : 0;
}

static double seconds(clockid_t clock) {
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *values) {
    qsort(values, BATCHES, sizeof *values, rising);
    return values[BATCHES / 2];
}

/* Mean CPU and wall time of `runs` runs; as `run_once`. */
static int batch(PeersRun *run, double tolerance, int runs, Tally *tally, double *cpu, double *wall) {
    double c = seconds(CLOCK_THREAD_CPUTIME_ID), w = seconds(CLOCK_MONOTONIC);
    for (int i = 0; i < runs; i++)
        if (run_once(run, tolerance, tally)) return -1;
    *cpu = (seconds(CLOCK_THREAD_CPUTIME_ID) - c) / runs;
    *wall = (seconds(CLOCK_MONOTONIC) - w) / runs;
    return 0;
}

static void row(PeersRun *run, double tolerance) {
    Tally tally;
    double cpu[BATCHES], wall[BATCHES];
    char text[512];
    int bad = batch(run, tolerance, 1, &tally, cpu, wall);
    if (!bad && cpu[0] < LONG) {
        int runs = (int)fmax(1.0, ceil(BATCH / wall[0]));
        for (int i = 0; i < BATCHES && !bad; i++) bad = batch(run, tolerance, runs, &tally, cpu + i, wall + i);
        cpu[0] = median(cpu);
        wall[0] = median(wall);
    }
    const char *method = tuned ? "CVODE BDF" : "CVODE BDF (own settings)", *failure = bad ? tally.failure : NULL;
    peers_row(run, method, tolerance, tally.counts, cpu[0], wall[0], failure, text, sizeof text);
    puts(text);
    fflush(stdout);
}

static void cost_of_rates(PeersRun *run, int number) {
    double z[MAX_STATES] = {0}, dz[MAX_STATES], each[BATCHES];
    if (peers_states(run) > MAX_STATES) return;
    for (int i = 0; i < BATCHES; i++) {
        double start = seconds(CLOCK_THREAD_CPUTIME_ID);
        for (int k = 0; k < 50000; k++) peers_rates(run, 0.0, z, dz, NULL);
        each[i] = (seconds(CLOCK_THREAD_CPUTIME_ID) - start) / 50000;
    }
    printf("case %d: %.0f ns\n", number, 1e9 * median(each));
}

int main(int count, char **words) {
    const char *what = count > 1 ? words[1] : "";
    if (!strcmp(what, "defaults")) {
        tuned = 0;
        what = "";
    }
    if (!strcmp(what, "version")) {
        char version[32];
        if (SUNDIALSGetVersion(version, sizeof version) == 0) puts(version);
        return 0;
    }
    for (int number = 0; number < peers_cases(); number++) {
        PeersRun *run = peers_open(number);
        if (!run) {
            fprintf(stderr, "case %d cannot be made\n", number);
            return 1;
        }
        if (!strcmp(what, "rates")) cost_of_rates(run, number);
        else if (*what) row(run, atof(what));
        else
            for (int k = 4; k <= 16; k++) row(run, pow(10.0, -0.5 * k));
        peers_close(run);
    }
    return 0;
}
