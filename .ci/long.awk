# Names each function of more lines than most, from func to its closing brace.
/^func /{ from = FNR; head = $0 }
/^}/ && from {
  if (FNR - from + 1 > most) print FILENAME ":" from ": " FNR - from + 1 " lines: " head
  from = 0
}
