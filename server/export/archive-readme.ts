/** README.txt of every archive. */
export const ARCHIVE_README = `Everything Swaybook has about one dog
=====================================

To have it back: open Swaybook, Settings, "Bring a dog back", and choose this ZIP as it is. It comes back with the
same sessions, samples, marks, notes, plans and reports. Nothing needs to be unpacked for that.

To look at it without Swaybook:

  sessions.csv              one row a session; opens in any spreadsheet (UTF-8, comma). Text that begins
                            like a formula has an apostrophe before it
  dog.json                  the dog
  plans.json                every version of the plan
  diary.json                medication, events, notes
  trend-settings.json       how trends are read
  audit.json                who changed what, when; audit-2.json … go on when it is long
  manifest.json             what is in here, with the SHA-256 of every file, what was left out and why
  schema/                   JSON Schema (2020-12) of every kind of JSON file

  sessions/<id>/
    session.json            what people and the sensor said about the session: set-up, plan, check-in, notes
    edits.json              marks and corrected holds
    repetition-notes.json   stance and signs of fatigue by repetition
    report.json             what was measured
    drawing.json            what screens draw of it; derived, of no use elsewhere
    stream.json             columns, rate, start and lost samples
    samples.csv             every stored sample: index, then the columns stream.json names
    arrivals.csv            live recordings: when the packet that ends at the index reached the device, UTC
                            microseconds
    trace.edf               the samples on an even grid with the marks, for programs that read EDF+

Samples: specific force in m/s^2 (a sensor at rest reads +9.81 on the axis that points up), angular rate in
rad/s, time in s. Sample i of a live recording was taken at startedAtUs + i / rateHz, by the sensor's nominal
rate; an uploaded one has its own time column. Every number is the shortest decimal that reads back to exactly
the stored float: 32 or 64 bits, as dtype in stream.json says. Lost samples have no row.

Swaybook measures; it does not diagnose.
`
