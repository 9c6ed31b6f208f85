INSERT INTO feature_cohort_column (cohort, name, values)
SELECT cohort, name, values FROM incoming
