# Erreurs de la démonstration.

the-monitor-stopped-reason = le service s’est arrêté : { $reason }
