"""The practice page: a lesson's fills, heard and read in one file that opens anywhere."""
