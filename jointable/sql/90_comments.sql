-- What each macro answers, in one place: DuckDB shows it in duckdb_functions(). A test holds that none is missing.
-- What only other macros call is told where it stands.

COMMENT ON MACRO awg_mm2 IS 'Area in mm² of an AWG size, from its unrounded diameter, at nine decimals; 12, ''#12'', ''12 AWG'', ''4/0'', and 0 to -3 for 1/0 to 4/0. Null for what is no AWG size.';
COMMENT ON MACRO kcmil_mm2 IS 'Area in mm² of thousands of circular mils, at nine decimals; 250 or ''250 kcmil''. Null for what is no positive number.';
COMMENT ON MACRO mm2_awg IS 'The nearest AWG size whose area is not smaller than an area in mm²; 2.5 or ''2.5 mm2''. Null above 4/0 AWG and for what is no positive number.';

COMMENT ON MACRO TABLE box_fill IS 'What each box of a schedule needs, what it has and whether it passes, under an edition of the code: box_fill(''items'', ''nec-2023''). One row a box, or a space of one.';
COMMENT ON MACRO TABLE box_fill_lines IS 'The counted lines of each box, with count, size, allowance, volume and clause; they add up to what box_fill says is required.';
COMMENT ON MACRO TABLE box_limits IS 'Limits beside the volume (depth, free length, pull boxes): what each needs, what the schedule gives, and whether it passes; null is not checked.';
COMMENT ON MACRO TABLE box_remaining IS 'How many more conductors of each size a passing box would still hold, one size by itself.';
COMMENT ON MACRO TABLE box_problems IS 'What is wrong in a schedule: row, column, value, reason, and what would be right.';
COMMENT ON MACRO TABLE box_answer IS 'box_fill with the lines, limits and remaining conductors of each box as lists, in one statement.';

COMMENT ON MACRO TABLE joint_choices IS 'Every connector class for each joint of a long table (joint, size, quantity, and optionally construction and material), best first inside its family, with the reason where it is refused.';
COMMENT ON MACRO TABLE joint_choice IS 'The best class of each family for each joint.';
COMMENT ON MACRO TABLE joint_classes IS 'Every connector class held against every joint: whether it takes it, without the wording of the reasons.';
COMMENT ON MACRO TABLE joint_facts IS 'Total area, widest, narrowest and count of the conductors of each joint.';
COMMENT ON MACRO TABLE class_counts IS 'How few and how many conductors of each size alone each general class takes, by the one rule of admission.';
