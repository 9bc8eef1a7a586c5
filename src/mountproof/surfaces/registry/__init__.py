"""The same numbers from thousands of cases: worked out by several processes or computers, kept in one database."""
