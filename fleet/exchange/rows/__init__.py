"""The files of the folder by subject: what each column is, and which action its rows become."""
