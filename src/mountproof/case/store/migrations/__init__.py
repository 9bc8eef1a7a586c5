"""Steps from each version of the tables to the next. A step never uses ``schema``: it must stay as it was."""
