"""Random trains with a complete plan hidden in them: what can be found is known before anything is asked.

`circuits` draws what is built in and which pins are joined, `rows` lays the parts along a strip that is kept
clear for wires, `trains` draws a body round them, `oracle` and `flood` show that what is hidden is a plan,
`bodies` and `ends` vary what is drawn so as makers build it, `measure` asks the planner and counts. The
planner's own tests live elsewhere; nothing here is tuned.
"""
