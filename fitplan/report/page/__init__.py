"""The report page: one HTML file with everything inside."""
