/** Version of this program, as in package.json. */
export const SOFTWARE_VERSION = '0.1.0'
