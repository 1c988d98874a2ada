"""Tables in, tables out: the steps of a build, in working order in `wiremap.workflow`."""
