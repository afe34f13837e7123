"""At the bench: the batch sheet, mending a slip, the check at demould, drying, consistency, defects."""
