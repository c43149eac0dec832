"""The use cases, one function each: what the command line and the page may ask for.

Said once for all of them: `folder` is the yard's folder, `today` the day on which is asked,
`fetching` how station weather is had, `progress` is told in words what is being done.
"""
