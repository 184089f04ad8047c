"""The job sheet: one page of HTML that holds everything for the bench, pictures included."""
