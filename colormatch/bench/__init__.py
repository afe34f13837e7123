"""At the bench: the batch sheet, correcting a weighing mistake, the check at demould, drying, consistency, defects."""
