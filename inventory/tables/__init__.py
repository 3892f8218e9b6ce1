"""Stock as a file: what goes out, what comes in. `docs/stock-file.md` describes the file."""
