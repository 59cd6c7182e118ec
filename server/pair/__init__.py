"""Will two glasses hold on each other? Misfit, stress, class and what the polariscope shows."""
