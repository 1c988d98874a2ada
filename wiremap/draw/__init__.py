"""How a record is drawn: colours and symbols, the owner's map, plots."""
