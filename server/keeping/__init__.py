"""Safe keeping: backups that rotate by themselves, putting one back, and a look whether the book is sound."""
