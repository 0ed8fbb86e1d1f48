import type { PasswordWeakness } from '#protocol/people'
import type { ApiError } from '../problem'

const REASONS: Record<PasswordWeakness, string> = {
  'too short': 'It is too short: 8 characters at least.',
  'too long': 'It is too long: 128 characters at most.',
  common: 'Too many people use this one, so it is among the first that are tried. Take another.',
  'contains the sign-in name': 'It holds the sign-in name, which others know. Take another.',
}

/** Why a password was not taken, in words; any other refusal in those of the server. */
export function passwordProblem(error: ApiError): string {
  const reason = error.problem?.reason
  return reason !== undefined && Object.hasOwn(REASONS, reason)
    ? REASONS[reason as PasswordWeakness]
    : error.message
}

/** Beside the field in which somebody chooses one. */
export const SIGN_IN_NAME_HINT =
  'What you type to sign in: a short name or an email address. Nothing is ever sent to it.'
