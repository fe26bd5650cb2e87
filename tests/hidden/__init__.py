"""Random trains with a complete plan hidden in them: what can be found is known before anything is asked.

`circuits` draws what is built in and which pins are joined, `rows` lays the parts along a strip that is kept
clear for wires, `bodies` draws a body round them, `trains` puts all together and proves the hidden plan,
`measure` asks the planner and counts. The planner's own tests live elsewhere; nothing here is tuned.
"""
