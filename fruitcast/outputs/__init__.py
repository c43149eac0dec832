"""What comes out of a plan: calendar, report, terminal, drawings, and the words for all of them.

Said once for all of them: `plan` is the plan, `yard` and `state` what there is and what the diary
says, `units` ('us' or 'metric') what people see, `ax` where a plot draws, a new figure otherwise.
"""
