"""Everything between the sludge tank and the skip: equipment, balance, lists, schedule."""
