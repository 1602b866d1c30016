"""Independent implementations in exact fractions, written from the rules, to test the macros by."""
