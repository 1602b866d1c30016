"""One module for each group of tables: how its raw files become published cells."""
