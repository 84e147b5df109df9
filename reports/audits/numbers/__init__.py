"""The numbers of an audit, one module for each subject. Pure: rows and days in, numbers out."""
