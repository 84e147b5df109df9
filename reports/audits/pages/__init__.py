"""The words and tables of an audit, one module for each subject. Pure: numbers in, text out."""
