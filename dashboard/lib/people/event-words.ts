/** What happened about people, in words; the rest of the sentence is "by" and who. */
export const EVENT_WORDS: Record<string, string> = {
  'sign-in.done': 'Signed in',
  'sign-in.failed': 'A try to sign in failed',
  'sign-in.locked': 'Too many tries: a sign-in name has to wait',
  'sign-ins.ended': 'Ended sign-ins elsewhere',
  'sign-out': 'Signed out',
  'password.set': 'Set a password',
  'password.reset': 'Took a new password by a link',
  'reset-link.made': 'Made a link for a new password',
  'second-factor.set': 'Asked for codes besides the password',
  'second-factor.removed': 'Switched the codes besides the password off',
  'recovery-code.used': 'Used a recovery code',
  'person.joined': 'Made an account',
  'person.renamed': 'Took other names',
  'person.locked': 'Locked somebody out',
  'person.unlocked': 'Let somebody sign in again',
  'person.removed': 'Removed an account',
  'invitation.made': 'Made a link that lets somebody in',
  'invitation.withdrawn': 'Withdrew a link that lets somebody in',
  'invitation.accepted': 'Was let in by a link',
  'role.changed': 'Changed what somebody may do',
  'role.removed': 'Took somebody off the dog',
  'share.made': 'Made a link to look',
  'share.opened': 'A link to look was opened',
  'share.revoked': 'Withdrew a link to look',
}

/** Values of such events that stand for words. */
export const EVENT_VALUES: Record<string, Record<string, string>> = {
  kind: { live: 'a session as it happens', report: 'a report' },
}
