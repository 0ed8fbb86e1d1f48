/** Why a hold should not count, as is often the case; common practice, no source. */
export const LEAVE_OUT_REASONS: readonly string[] = [
  'no hold: the dog sat, lay or walked',
  'leaned on somebody or something',
  'the harness was touched',
  'the harness slipped',
  'startled or distracted',
  'other',
]

/** Why a session should not count in the trends; common practice, no source. */
export const EXCLUDE_REASONS: readonly string[] = [
  'the set-up was not as noted',
  'the harness slipped or sat differently',
  'the dog was ill or in pain that day',
  'stopped early',
  'a trial of the sensor',
  'other',
]
