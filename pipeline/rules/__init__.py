"""The programme's rules for one group of indicators each; `pipeline/programme.py` joins them."""
