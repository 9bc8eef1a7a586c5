"""Pictures of records and mountings as plain drawing instructions: one drawing for the page, for paper and for files."""
