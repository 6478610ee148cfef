"""What a record tells of a job, as frozen records with no layout."""
