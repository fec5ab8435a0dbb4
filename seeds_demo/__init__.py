"""An invented programme of any size, its partners' files and the truth behind them: the demo, and what tests take their data from."""
