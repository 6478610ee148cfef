"""The job report for customer and office: one content, set as a web page and a PDF, and as figures for programs."""
