"""The course as data: the model, its YAML schema, the parser and the only reader of files."""
