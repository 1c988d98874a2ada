"""Many properties: found below a folder, built in parallel, gathered into one portfolio."""
