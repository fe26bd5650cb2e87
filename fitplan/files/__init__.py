"""Reading what users write, with a line number in every mistake, and writing whole or not at all.

In: YAML of trains, vehicles and parts; a plan's JSON. Out: values of the model; files on disk.

A document is built from parser events (`document`): texts stay texts and the schema decides what they
mean. `fields` and `entries` say what a key may hold; the `*_file` modules are the schemas, the `*_read`
modules turn entries into values of the model and look across files. All mistakes of all files come at
once as one `InputError`. `codec` and `plan_json` derive the plan's JSON from the type hints of the model.
`write` puts a whole folder in place or leaves the old one; `reference` writes the tables of keys in the
README files.

Begin with `read.read_train`.
"""
