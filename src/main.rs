//! The command line; all of it is in the library ([`poppetry::cli`]).

fn main() -> std::process::ExitCode {
    poppetry::cli::main()
}
