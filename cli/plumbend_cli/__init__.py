"""The program ``plumbend``: thin commands over the library, and the pages that they print."""
