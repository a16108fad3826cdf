"""The answer as one HTML file: data for the page, then the page."""
