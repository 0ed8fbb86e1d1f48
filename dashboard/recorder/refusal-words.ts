/** What to tell a person whose samples the server will never take. */
export function refusalWords({ code, message }: { code?: string; message: string }): string {
  switch (code) {
    case 'SESSION_UNKNOWN':
    case 'SESSION_DELETED':
      return (
        'This session was deleted on the server, or you may not record for the dog any more. ' +
        'What is on this device stays here until you discard it.'
      )
    case 'SESSION_FINISHED':
      return (
        'This session was finished on the server before the rest had arrived, and it takes no more. ' +
        'The rest stays on this device until you discard it.'
      )
    default:
      return `The server will not take it: ${message}`
  }
}
