import { COMMAND_LINE } from '../author.ts'
import { ConfigError } from '../config-error.ts'
import { ServerError } from '../errors.ts'
import { setPasswordOf } from '../people/password-by-operator.ts'
import { secretFile } from '../secret-file.ts'
import type { People, PersonRecord } from '../store/people/people.ts'
import { withPeopleOf } from '../upkeep/people-of-folder.ts'
import { UpkeepError } from '../upkeep/upkeep-error.ts'
import { askNewPassword, passwordFrom } from './ask-password.ts'
import { dataFolderOf, storedDataArguments } from './stored-data-options.ts'
import type { CommandContext } from './stored-data-options.ts'
import { UsageError } from './usage-error.ts'

export const OWNER_PASSWORD_HELP = `Usage: swaybook owner-password [options]

Sets a new password on a stopped server, for an owner who forgot theirs: the first account, unless
--for names another one. Where nobody has a password yet it sets the first one, and from then on
everybody signs in. The person's sign-ins end, and the trail of the installation tells it. The rules
are those of the screens: 8 to 128 characters, not a common password, not the sign-in name.

The password is asked for at the terminal and not shown; from a pipe it is read whole, but for one
line end. It is never an argument: others see those.

  --password-file FILE     read it from FILE, which nobody else may be able to change
  --for NAME               of the account with this sign-in name
  --remove-second-factor   also stop asking for codes, for who lost them together with the recovery codes
  --data DIR               folder of the data (default: SWAYBOOK_DATA, or the one the server uses)

Exit code 0: set; 2: this command line, or no password was given; 3: the password was refused, a server
is running on the folder, or it cannot be used: nothing was changed.
`

/** `swaybook owner-password`: exit code 0 when the new password holds. */
export async function ownerPasswordCommand(
  args: readonly string[],
  context: CommandContext,
): Promise<number> {
  const { values, positionals } = storedDataArguments(args, {
    'password-file': { type: 'string' },
    for: { type: 'string' },
    'remove-second-factor': { type: 'boolean' },
  })
  if (values.help) {
    process.stdout.write(OWNER_PASSWORD_HELP)
    return 0
  }
  if (positionals.length > 0) {
    // Not quoted: it may be the password.
    throw new UsageError(
      'owner-password takes no password as an argument, where others can see it; swaybook owner-password --help shows how',
    )
  }
  const dataDir = dataFolderOf(values.data, context)
  const { signInName, name, lockedAt } = await withPeopleOf(dataDir, async (people) => {
    const person = await personFor(people, values.for)
    const password = await passwordOf(values['password-file'])
    await setPasswordOf(people, person, password, COMMAND_LINE).catch(refused)
    if (values['remove-second-factor']) await people.removeSecondFactor(person.id, COMMAND_LINE)
    return person
  })
  process.stdout.write(
    `${name} has a new password; the sign-in name is "${signInName}". Earlier sign-ins ended.\n`,
  )
  if (lockedAt !== null) {
    process.stdout.write('The account is locked: the keeper lets it in again under Settings.\n')
  }
  return 0
}

/** @throws {UpkeepError} when nobody has the name */
async function personFor(people: People, signInName: string | undefined): Promise<PersonRecord> {
  if (signInName === undefined) return people.keeper()
  const person = await people.named(signInName)
  if (person) return person
  const names = (await people.all()).map((one) => `"${one.signInName}"`).join(', ')
  throw new UpkeepError(`there is no account "${signInName}"; there are ${names}. Nothing was changed.`)
}

async function passwordOf(file: string | undefined): Promise<string> {
  if (file === undefined) {
    return process.stdin.isTTY ? askNewPassword(process.stdin, process.stderr) : passwordFrom(process.stdin)
  }
  try {
    return secretFile(file, '--password-file')
  } catch (error) {
    if (error instanceof ConfigError) throw new UsageError(error.message, { cause: error })
    throw error
  }
}

/** @throws {UpkeepError} in the words of the screens */
function refused(error: unknown): never {
  if (!(error instanceof ServerError)) throw error
  throw new UpkeepError(`${error.message} Nothing was changed.`, { cause: error })
}
