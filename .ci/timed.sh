# Sourced by run and check: run a part, and say at the end how long each part took.
parts=()
timed() {
  local start=$SECONDS
  "$@"
  parts+=("$(printf '%5d s  %.70s' $((SECONDS - start)) "${*##bash -euo pipefail -c }")")
}
show_times() {
  printf '%s\n' "" "Time by part:" "${parts[@]}"
  printf '%5d s  in all\n' "$SECONDS"
}
