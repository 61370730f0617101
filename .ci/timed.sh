# Sourced by run and check: run a part, and show at the end how long each part took.
parts=()
timed() {
  local start=$SECONDS words="${*#bash -euo pipefail -c }"
  "$@"
  parts+=("$(printf '%5d s  %.70s' $((SECONDS - start)) "$words")")
}
show_times() {
  printf '%s\n' "" "Time by part:" "${parts[@]}"
  printf '%5d s  in all\n' "$SECONDS"
}
