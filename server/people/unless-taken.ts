import { ServerError } from '../errors.ts'
import { SignInNameTakenError } from '../store/people/people.ts'

/** The outcome of a change that may want a sign-in name which somebody else has. */
export function unlessTaken<T>(change: Promise<T>): Promise<T> {
  return change.catch((cause: unknown) => {
    if (!(cause instanceof SignInNameTakenError)) throw cause
    throw new ServerError('SIGN_IN_NAME_TAKEN', {}, { cause })
  })
}
