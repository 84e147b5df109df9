"""Entry that loses and doubles nothing: what every form of a signed-in page carries, and why.

Our `csrf_token` tag writes a signed statement beside the usual token: who opened
the page, its address, whose record it showed, and a one-time number. The guard
reads it when the form comes back, before any view does. So each form, whoever
writes it next, counts once, reaches the patient it was opened for, and gives its
typing back after an expired sign-in.
"""
