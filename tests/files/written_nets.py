"""The nets of four examples as somebody wrote them by hand, before they said `usual nets: yes`."""

WRITTEN = {
    "harbour-line": """
nets:
  - {name: ground, role: ground, joins: [cells.minus, lift.GND, brain.GND, front eyes.GND, tail eyes.GND,
           emitter.GND, headlamp.GND, horn.GND, tail lamp.GND]}
  - {name: cells plus, role: supply, joins: [cells.plus, fuse.a]}
  - {name: fused, role: supply, joins: [fuse.b, switch.a]}
  - {name: switched, role: supply, joins: [switch.b, lift.in]}
  - {name: five volts, role: supply, joins: [lift.out, brain.5v, front eyes.VCC, tail eyes.VCC]}
  - {name: front trigger, role: signal, joins: [brain.*, front eyes.TRIG]}
  - {name: front echo, role: signal, joins: [brain.*, front eyes.ECHO]}
  - {name: tail trigger, role: signal, joins: [brain.*, tail eyes.TRIG]}
  - {name: tail echo, role: signal, joins: [brain.*, tail eyes.ECHO]}
  - {name: infrared, role: signal, joins: [brain.*, emitter.IN]}
  - {name: headlight, role: signal, joins: [brain.*, headlamp.IN]}
  - {name: horn, role: signal, joins: [brain.*, horn.IN]}
  - {name: tail light, role: signal, joins: [brain.*, tail lamp.IN]}
""",
    "boiler-loco": """
nets:
  - {name: ground, role: ground, joins: [cells.minus, lift.GND, brain.GND, front eye.GND, rear eye.GND,
      emitter.GND]}
  - {name: cells plus, role: supply, joins: [cells.plus, switch.a]}
  - {name: switched, role: supply, joins: [switch.b, lift.in]}
  - {name: five volts, role: supply, joins: [lift.out, brain.5v, front eye.VCC, rear eye.VCC]}
  - {name: bus clock, role: signal, joins: [brain.*, front eye.SCL, rear eye.SCL]}
  - {name: bus data, role: signal, joins: [brain.*, front eye.SDA, rear eye.SDA]}
  - {name: front off, role: signal, joins: [brain.*, front eye.OFF]}
  - {name: rear off, role: signal, joins: [brain.*, rear eye.OFF]}
  - {name: infrared, role: signal, joins: [brain.*, emitter.IN]}
""",
    "narrow-crane-wagon": """
nets:
  - {name: ground, role: ground, joins: [cells.minus, step-up.GND, brain.GND, eyes.GND]}
  - {name: cells plus, role: supply, joins: [cells.plus, step-up.in]}
  - {name: five volts, role: supply, joins: [step-up.out, brain.5v, eyes.VCC]}
  - {name: trigger, role: signal, joins: [brain.*, eyes.TRIG]}
  - {name: echo, role: signal, joins: [brain.*, eyes.ECHO]}
""",
    "starter": """
nets:
  - {name: ground, role: ground, joins: [supply.minus, lift.GND, brain.ground, eye.GND, emitter.GND,
           tail lamp.GND]}
  - {name: cells, role: supply, joins: [supply.plus, switch.a]}
  - {name: switched, role: supply, joins: [switch.b, lift.in]}
  - {name: five volts, role: supply, joins: [lift.out, brain.5v, eye.VCC]}
  - {name: trigger, role: signal, joins: [brain.*, eye.TRIG]}
  - {name: echo, role: signal, joins: [brain.*, eye.ECHO]}
  - {name: command, role: signal, joins: [brain.*, emitter.IN]}
  - {name: tail, role: signal, joins: [brain.*, tail lamp.IN]}
""",
}
