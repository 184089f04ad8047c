"""How blanks are cut from stock sheets."""
