"""The open fonts that texts on pictures and pages are set in; see LICENCE.txt."""
