/** What can be typed at the bench, at most 80 columns wide. */
export function helpText(reads: 'cents' | 'hz'): string {
  const [three, two, one] = reads === 'hz' ? ['3 12 392.4', '12 392.4', '392.4'] : ['3 12 +1.5', '12 +1.5', '+1.5'];
  const what = reads === 'hz' ? 'hertz; a decimal comma will do' : 'cents: plus is sharp, a decimal comma will do';
  return `  ${three.padEnd(18)} string, fret, ${what}
  ${two.padEnd(18)} fret and reading of the string in the prompt
  ${one.padEnd(18)} reading at the fret in the prompt
  ${`${three} dull`.padEnd(18)} words after a reading are its note
  Enter              next string (1 is the thinnest)
  string 4           go to a string
  open ${(reads === 'hz' ? '196.1' : '-0.4').padEnd(13)} what the open string reads, for the readings that follow
  saddle 1.2         where its saddle stands in mm, plus is back
  next pass          after a saddle move; "pass 0" goes back
  next instrument    another one; "instrument NAME" goes to one by name
  list               what is logged of this instrument at this pass
  worksheet          what to do to every string, from the standard
  undo               take the last row back; it is kept in a file of its own
  end                end; every reading is saved the moment it is typed
  The beginning of a word is enough, as in "u" for undo.
`;
}
