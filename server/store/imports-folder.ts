/** Within the data folder: what imports that are under way have on disk, emptied at every start. */
export const IMPORTS_FOLDER = 'imports'
