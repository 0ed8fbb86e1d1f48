/** The traces scripts/whole_report.py writes into vectors/whole-report, each as .csv and .json. */
export const WHOLE_REPORT_TRACES = [
  'even-100',
  'even-50',
  'even-200',
  'even-25',
  'gap',
  'rounded-104',
  'jittered-100',
] as const
