#!/bin/sh
# Runs the whole comparison on one core and writes RESULTS.md. Takes about seven minutes once built (the first build takes
# as long again). Best on an idle machine: it says at the end how busy the machine was.
#
#   ./run.sh               everything
#   PYTHON=... ./run.sh    with another Python than target/venv/bin/python or python3
#   CORE=1 ./run.sh        pinned to another core than the last one
#
# Nothing is installed. What is missing is named, with the command that gets it, before anything runs.
set -eu
cd "$(dirname "$0")"

if [ -z "${PYTHON:-}" ]; then
    if [ -x target/venv/bin/python ]; then PYTHON=target/venv/bin/python; else PYTHON=python3; fi
fi
CORE=${CORE:-$(($(nproc) - 1))}
CC=${CC:-cc}

missing=0
need() { # what, command that shows it is there, how to get it
    if ! sh -c "$2" >/dev/null 2>&1; then
        echo "missing: $1" >&2
        echo "    get it with: $3" >&2
        missing=1
    fi
}
need "cargo, the Rust toolchain" "cargo --version" "your system's rustup or rust package"
need "$CC, a C compiler" "$CC --version" "apt-get install gcc   (or set CC)"
need "taskset" "taskset --version" "apt-get install util-linux"
need "SUNDIALS with its headers (6.x; CVODES)" "printf '#include <cvodes/cvodes.h>\n#if SUNDIALS_VERSION_MAJOR != 6\n#error\n#endif\n' | $CC -E -" "apt-get install libsundials-dev"
need "SciPy for $PYTHON" "$PYTHON -c 'import scipy.integrate'" \
    "python3 -m venv target/venv && target/venv/bin/pip install scipy   (in $(pwd), or set PYTHON)"
[ "$missing" = 0 ] || exit 1

echo "building" >&2
cargo build --release --workspace
$CC -O2 -Wall -Wextra -std=gnu11 -I. cvode.c -o target/release/cvode -Ltarget/release -Wl,-rpath,'$ORIGIN' \
    -lpeers_interface -lsundials_cvodes -lsundials_nvecserial -lsundials_sunmatrixdense -lsundials_sunlinsoldense -lm

pinned() { taskset -c "$CORE" "$@"; }
load() { cut -d ' ' -f 1-3 /proc/loadavg; }
version() { sed -n "/^name = \"$1\"/{n;s/version = \"\(.*\)\"/\1/p;}" Cargo.lock | paste -s -d '/'; }
out=target/results
mkdir -p "$out"
before=$(load)
began=$(date +%s)

echo "poppetry and diffsol (four minutes)" >&2
pinned target/release/peers reference >"$out/reference.md"
pinned target/release/peers rates >"$out/rates.txt"
pinned target/release/peers sweep >"$out/own.csv"
echo "CVODE (a quarter of a minute)" >&2
pinned target/release/cvode rates >"$out/cvode_rates.txt"
pinned target/release/cvode >"$out/cvode.csv"
echo "SciPy (a minute and a half)" >&2
pinned "$PYTHON" scipy_peer.py >"$out/scipy.csv"

cat "$out/own.csv" "$out/cvode.csv" "$out/scipy.csv" >"$out/all.csv"
{
    echo "# poppetry's solvers beside general-purpose ones"
    echo
    echo "Written by \`run.sh\`; what is compared and how it is kept fair stands in \`src/lib.rs\`, \`cvode.c\` and"
    echo "\`scipy_peer.py\`. CPU time of one core, median of repeats (runs of more than half a second: one)."
    echo
    echo "- Date: $(date -u '+%Y-%m-%d %H:%M') UTC, took $((($(date +%s) - began) / 60)) min $((($(date +%s) - began) % 60)) s"
    echo "- Machine: $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1), core $CORE of $(nproc);" \
        "load averages before: $before, after: $(load) (1.00 afterwards is this run itself; more means a busy machine)"
    echo "- poppetry $(sed -n 's/^version = "\(.*\)"/\1/p' ../../Cargo.toml | head -n 1)" \
        "at $(git rev-parse --short HEAD 2>/dev/null || echo 'an unknown commit'), $(rustc --version | cut -d ' ' -f 1-2)"
    echo "- diffsol $(version diffsol) (nalgebra $(version nalgebra)), ode_solvers $(version ode_solvers)," \
        "SUNDIALS $(target/release/cvode version) (as installed, CVODES with the serial vector and its own dense solver)," \
        "$("$PYTHON" scipy_peer.py version); $($CC --version | head -n 1)"
    echo "- One evaluation of the rates at the start, case by case: in the Rust program" \
        "$(sed 's/.*: //' "$out/rates.txt" | paste -s -d ',' | sed 's/,/, /g'); through the C interface" \
        "$(sed 's/.*: //' "$out/cvode_rates.txt" | paste -s -d ',' | sed 's/,/, /g')"
    echo "- SciPy's times contain what Python adds to each call; read them beside the counts of evaluations, which do not" \
        "depend on the language."
    echo
    target/release/peers report "$out/own.csv" "$out/cvode.csv" "$out/scipy.csv"
    echo
    echo "## How far the reference can be trusted"
    echo
    cat "$out/reference.md"
} >"$out/RESULTS.md"
mv "$out/RESULTS.md" RESULTS.md
echo "written: RESULTS.md (rows: $out/all.csv)" >&2
