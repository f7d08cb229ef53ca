"""Reading and writing of pictures on disk; the libraries are imported where they are used."""
