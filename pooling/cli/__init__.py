"""The member's command line: exports in, a wear record out, on the member's own device; and sending that record."""
